"""
An example: read a season by the API into pandas, and draw the pass rate of each rule.

``FEELERBOOK_TOKEN=fbk_… python deploy/api/read_season.py ADDRESS season.svg``
with a token for “read”.  Needs pandas, which this project's environment has.
"""

import argparse
import json
import os
import sys
import urllib.request
from pathlib import Path
from typing import Any

import pandas as pd


def fetched(address: str, token: str) -> dict[str, Any]:
    """Give the season as the service tells it."""
    request = urllib.request.Request(  # noqa: S310  the address is typed
        address.rstrip("/") + "/api/v1/season",
        headers={"Authorization": f"Bearer {token}"},
    )
    with urllib.request.urlopen(request, timeout=30) as answer:  # noqa: S310
        body: dict[str, Any] = json.load(answer)
        return body


def rules_of(season: dict[str, Any]) -> pd.DataFrame:
    """Give a row a rule: how many cars it judged at their first look, and admitted."""
    rows = [
        {"rule": one["number"], "quantity": one["quantity"], **one["passed"]}
        for one in season["rules"]
    ]
    table = pd.DataFrame(rows, columns=["rule", "quantity", "admitted", "judged"])
    table["percent"] = 100.0 * table["admitted"] / table["judged"]
    return table.sort_values("percent", ignore_index=True)


def drawn(table: pd.DataFrame) -> str:
    """Draw the pass rates as bars, the lowest first."""
    height = 24 * len(table) + 8
    bars = ""
    for place, row in enumerate(table.to_dict("records")):
        base, wide = 24 * place + 20, 2.0 * float(row["percent"])
        name = f"{row['rule']} {row['quantity']}"
        bars += (
            f'<text x="4" y="{base}">{name}</text>'
            f'<rect x="260" y="{base - 12}" width="{wide:.1f}" height="16"/>'
            f'<text x="{266 + wide:.0f}" y="{base}">{wide / 2:.0f} %</text>'
        )
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" font-family="sans-serif" '
        f'font-size="12" width="520" height="{height}">{bars}</svg>\n'
    )


def main(words: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        prog="read_season.py", description="Read a season, and draw its pass rates."
    )
    parser.add_argument("address", help="of the club's service")
    parser.add_argument("file", type=Path, help="the drawing, an SVG")
    options = parser.parse_args(words)
    table = rules_of(fetched(options.address, os.environ["FEELERBOOK_TOKEN"]))
    print(table.to_string(index=False))
    options.file.write_text(drawn(table), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
