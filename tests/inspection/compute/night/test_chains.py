"""Hash chains: any change, cut or exchange of a link shows (R9)."""

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspection.compute.night.chains import (
    Link,
    chained_hash,
    first_broken,
    link_holds,
    linked_hash,
    name_hash,
)


def chain(contents: list[str]) -> list[Link]:
    links: list[Link] = []
    previous = ""
    for content in contents:
        sha256 = chained_hash(previous, content)
        links.append(Link(content=content, previous_sha256=previous, sha256=sha256))
        previous = sha256
    return links


def test_hash_is_sha256_of_hash_and_content() -> None:
    # The same by hand: FIPS 180-4 by the standard library.
    content = hashlib.sha256(b"c").hexdigest()
    assert (
        chained_hash("ab", "c") == hashlib.sha256(f"ab\n{content}".encode()).hexdigest()
    )
    assert chained_hash("ab", "c") == linked_hash("ab", content)
    assert name_hash("salt", "Ann") == hashlib.sha256(b"saltAnn").hexdigest()


def test_first_seals_hashed_their_content_itself() -> None:
    sha256 = hashlib.sha256(b"ab\nc").hexdigest()
    assert link_holds(Link(content="c", previous_sha256="ab", sha256=sha256))
    assert not link_holds(Link(content="d", previous_sha256="ab", sha256=sha256))


@given(st.lists(st.text(), max_size=6))
def test_whole_chain_holds(contents: list[str]) -> None:
    assert first_broken(chain(contents)) is None


@given(st.lists(st.text(), min_size=1, max_size=6, unique=True), st.data())
def test_changed_content_is_found_where_it_is(
    contents: list[str], data: st.DataObject
) -> None:
    links = chain(contents)
    place = data.draw(st.integers(0, len(links) - 1))
    old = links[place]
    links[place] = Link(
        content=old.content + "x",
        previous_sha256=old.previous_sha256,
        sha256=old.sha256,
    )
    assert first_broken(links) == place


@pytest.mark.parametrize("removed", [0, 1])
def test_link_cut_out_is_found_behind_it(removed: int) -> None:
    links = chain(["a", "b", "c"])
    del links[removed]
    assert first_broken(links) == removed


def test_rewritten_link_breaks_the_next() -> None:
    links = chain(["a", "b", "c"])
    forged = chained_hash(links[0].sha256, "B")
    links[1] = Link(content="B", previous_sha256=links[0].sha256, sha256=forged)
    assert first_broken(links) == 2
