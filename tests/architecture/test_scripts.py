"""Scripts import what they need by name, and what they import is there and kept."""

import re
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.test import override_settings

from deploy.keeping.device import FILES
from deploy.settings.static_files import HashedFiles

ROOT = Path(__file__).resolve().parents[2]
SCRIPTS = {
    f"{app}/{path.name}": path.read_text("utf-8")
    for app in ("inspection", "inventory")
    for path in (ROOT / app / "static" / app).glob("*.js")
}
IMPORT = re.compile(r'^import \{ ([\w, ]+) \} from "\./([\w.-]+)";$', re.MULTILINE)
EXPORT = re.compile(r"^export \{ ([\w, ]+) \};$", re.MULTILINE)
#: Before the page is ready no module runs: this one, which is classic, keeps its keys.
GLOBAL = {"window.feelerbookEarly"}


def imports_of(name: str) -> dict[str, set[str]]:
    app = name.partition("/")[0]
    found = IMPORT.findall(SCRIPTS[name])
    return {f"{app}/{file}": set(names.split(", ")) for names, file in found}


def all_imports_of(name: str) -> set[str]:
    direct = set(imports_of(name))
    return direct.union(*map(all_imports_of, direct))


def test_a_script_imports_by_name_what_another_exports() -> None:
    importing = [name for name in SCRIPTS if imports_of(name)]
    assert len(importing) >= 3
    for name in importing:
        assert SCRIPTS[name].count("import ") == len(imports_of(name)), name
        for file, names in imports_of(name).items():
            (exported,) = EXPORT.findall(SCRIPTS[file])
            assert names <= set(exported.split(", ")), (name, file)


def test_nothing_is_handed_on_by_a_name_of_the_window() -> None:
    found = {
        one
        for text in SCRIPTS.values()
        for one in re.findall(r"window\.feelerbook\w*", text)
    }
    assert found == GLOBAL


def test_what_a_page_imports_is_fetched_beside_it_and_kept_for_no_network() -> None:
    page = (ROOT / "inspection/templates/inspection/block/block.html").read_text(
        "utf-8"
    )
    ahead = re.findall(r"\"modulepreload\" href=\"{% static '([\w/.]+)' %}\"", page)
    assert set(ahead) == all_imports_of("inspection/block.js")
    assert all_imports_of("inspection/shell.js") < set(FILES)


def test_hashed_scripts_import_each_other_by_their_hashed_names(
    tmp_path: Path,
) -> None:
    backend = f"{HashedFiles.__module__}.{HashedFiles.__qualname__}"
    stores = {**settings.STORAGES, "staticfiles": {"BACKEND": backend}}
    with override_settings(STATIC_ROOT=tmp_path, STORAGES=stores):
        call_command("collectstatic", interactive=False, verbosity=0)
    (block,) = tmp_path.glob("inspection/block.????????????.js")
    said = re.findall(r'from "\./([\w.]+)"', block.read_text("utf-8"))
    assert len(said) == len(imports_of("inspection/block.js"))
    for name in said:
        assert re.fullmatch(r"\w+\.[0-9a-f]{12}\.js", name)
        assert (tmp_path / "inspection" / name).is_file()
