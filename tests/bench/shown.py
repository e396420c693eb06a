"""What a browser shows of a car on the block, and what its page's script asks by it."""

import json
import re
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode


@dataclass
class Shown:
    """The tag of each piece of a sheet's page, by the piece's id."""

    number: str
    tags: dict[str, str] = field(default_factory=dict)

    @property
    def have(self) -> str:
        """What the script says with a reading, and when it asks what follows."""
        return " ".join(self.tags.values())

    @property
    def block(self) -> str:
        return f"/sheet/{self.number}/block"

    @property
    def news(self) -> str:
        """Where what follows a reading is asked for."""
        return f"{self.block}?{urlencode({'have': self.have})}"

    def opened(self, page: str) -> None:
        found = re.findall(r'id="([^"]+)" data-tag="([^"]+)"', page)
        self.tags = dict(found)

    def learn(self, answer: dict[str, Any]) -> None:
        for key, html in answer["pieces"].items():
            self.tags[key] = html.partition('data-tag="')[2].partition('"')[0]

    def learn_from(self, body: bytes) -> None:
        """Learn from what came back, if anything did."""
        if body:
            self.learn(json.loads(body))
