"""
Check a sealed sheet's file, on any computer: ``python deploy/check_sheet.py FILE``.

Needs Python 3.11 or later and nothing else, neither the club's database nor the rest
of this project: it works out anew what the file says.  From each finding's value,
standard uncertainty, limits, decision rule and stored critical value: its outcome,
margin, probability (JCGM 106:2012) and whether it is admitted; from the findings the
decision; from the text of the seal (RFC 8785) its hash; from the hashes of the night
(FIPS 180-4) the head, which is held against the printed list of the night.

Ends with 0 if all agrees, with 1 and what differs if not.
"""

import argparse
import hashlib
import json
import math
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from statistics import NormalDist
from typing import Any

FORMAT = "feelerbook sealed sheet 1"
SHEET_FORMATS = ("feelerbook sheet 1", "feelerbook sheet 2")
#: Two computers may differ in the last digits of a sum.
NEAR = 1e-6
OUTCOMES = ("pass", "conditional pass", "conditional fail", "fail")
#: How many of the outcomes, from the best, a decision rule admits.
ADMITTED = {"guarded acceptance": 1, "simple acceptance": 2, "guarded rejection": 3}
LARGEST = 5_000_000
#: A slip's size comes back from the middle and the half width to so many millionths.
SLIP_NEAR = 2
SLIP_EXACT = 1e-6
#: A joint probability is worked out to some thousandths.
JOINT_NEAR = 0.02


class CannotReadError(Exception):
    """The file is not one that can be checked."""


def main(words: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        prog="check_sheet.py", description="Check a sealed sheet's file."
    )
    parser.add_argument("file", type=Path)
    parser.add_argument(
        "--head",
        nargs=2,
        metavar=("HASH", "COUNT"),
        help="the head and the count on the night's printed list",
    )
    options = parser.parse_args(words)
    try:
        differences, lines = check_file(options.file, head=options.head)
    except CannotReadError as error:
        print(f"{options.file}: {error}")
        return 1
    for line in lines:
        print(line)
    for line in differences:
        print(f"DIFFERS: {line}")
    print("The sheet does not hold." if differences else "All agrees.")
    return 1 if differences else 0


def check_file(
    path: Path, *, head: list[str] | None = None
) -> tuple[list[str], list[str]]:
    """Give what differs, and what the sheet says in a few lines."""
    try:
        content = path.read_bytes()
    except OSError as error:
        raise CannotReadError(str(error.strerror)) from error
    return check(read(content), head=head)


def read(content: bytes) -> dict[str, Any]:
    """Read the file strictly: UTF-8, one object, no key twice, canonical."""
    if len(content) > LARGEST:
        message = f"{len(content)} bytes; at most {LARGEST} are read."
        raise CannotReadError(message)
    try:
        text = content.decode()
        whole = json.loads(text, object_pairs_hook=_no_key_twice)
    except (ValueError, RecursionError) as error:
        message = f"not a file of JSON: {error}"
        raise CannotReadError(message) from error
    if not isinstance(whole, dict) or whole.get("format") != FORMAT:
        message = f"not a file of the format “{FORMAT}”."
        raise CannotReadError(message)
    if canonical(whole) != text:
        message = "not in the one canonical form (RFC 8785)."
        raise CannotReadError(message)
    return whole


def _no_key_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    members = dict(pairs)
    if len(members) != len(pairs):
        message = "a key stands twice in one object"
        raise ValueError(message)
    return members


def check(
    whole: dict[str, Any], *, head: list[str] | None = None
) -> tuple[list[str], list[str]]:
    """Check a file that was read; what it lacks is named as well."""
    differences = list(held_to_schema(whole, whole.get("schema", {}), whole))
    if differences:
        return differences, []
    sheet, night = whole["sheet"], whole["night"]
    for what, differing in (
        ("findings", findings_differ(sheet)),
        ("words to the driver", words_differ(sheet, whole.get("driver"))),
        ("rules", rules_differ(sheet, whole["rules"])),
        ("hashes", chain_differs(sheet, night, head)),
    ):
        try:
            differences.extend(differing)
        except (ArithmeticError, LookupError, TypeError, ValueError) as error:
            differences.append(f"the {what} cannot be worked out: {error!r}")
    return differences, [*told(whole.get("driver")), *summary(sheet, night)]


def told(driver: list[dict[str, Any]] | None) -> Iterator[str]:
    """Say first what the driver is told; the words are in no hash."""
    for one in driver or []:
        yield " ".join(one["says"])


def words_differ(
    sheet: dict[str, Any], driver: list[dict[str, Any]] | None
) -> Iterator[str]:
    """Hold the rules that the driver is told of against those not admitted."""
    if driver is None:
        return
    broken = [
        finding["rule"]
        for finding in sheet["findings"]
        if finding["force"] == "mandatory"
        and not finding["admitted"]
        and finding["outcome"] != "not measured"
    ]
    if [one["rule"] for one in driver] != broken:
        yield f"the driver is told of other rules than those not admitted: {broken}"


def summary(sheet: dict[str, Any], night: dict[str, Any]) -> Iterator[str]:
    item, procedure = sheet["item"], sheet["procedure"]
    yield f"Sheet {sheet['number']}: car {item['car']} {item['car_name']}."
    yield f"Night: {sheet['night']['name']}, {sheet['night']['date']}."
    yield f"By {procedure['edition']}, {procedure['decision_rule']}."
    yield f"Decision: {sheet['decision']}, {sheet['sealed_at']}."
    yield f"Seal {sheet['sequence']} of {len(night['links'])}, head {night['head']}."
    early = [place for place, one in enumerate(night["links"], 1) if one["hashes_text"]]
    if unproven := [str(place) for place in early if place != sheet["sequence"]]:
        yield f"Not proven from this file alone: link {', '.join(unproven)}."


# --- The outcomes, from values, uncertainties and limits. -----------------------


def findings_differ(sheet: dict[str, Any]) -> Iterator[str]:
    """Work out each finding, then the decision."""
    procedure = sheet["procedure"]
    rule = procedure["decision_rule"]
    confidence = float(procedure["confidence"])
    if rule not in ADMITTED or not 0.5 <= confidence < 1:
        yield f"decision rule “{rule}” at {confidence} is none"
        return
    for finding in sheet["findings"]:
        at = f"rule {finding['rule']}"
        for key, value in judged(finding, rule, confidence).items():
            if key == "probability" and finding.get("places"):
                # Of several places at once: at most that of the one in the finding.
                if not 0 <= finding[key] <= value + JOINT_NEAR:
                    yield f"{at}: {key} is {finding[key]!r}, of one place {value!r}"
            elif key in finding and not alike(finding[key], value):
                yield f"{at}: {key} is {finding[key]!r} in the file, {value!r} here"
    held_up = [
        finding["rule"]
        for finding in sheet["findings"]
        if finding["force"] == "mandatory" and not finding["admitted"]
    ]
    if sheet["decision"] == "passed" and held_up:
        yield f"passed, with rule {', '.join(held_up)} mandatory and not admitted"


def judged(finding: dict[str, Any], rule: str, confidence: float) -> dict[str, Any]:
    """
    Judge one finding: JCGM 106:2012, clauses 7 and 8, on whole millionths.

    The guard band is the critical value times u: the stored one, or else the normal
    quantile of the confidence.
    """
    if finding["outcome"] == "not applicable":
        return {"value": None, "admitted": True}
    value = finding["value"]
    if value is None:
        return {"outcome": "not measured", "admitted": False}
    lower = -math.inf if finding["lower"] is None else finding["lower"]
    upper = math.inf if finding["upper"] is None else finding["upper"]
    near, far = sorted((value - lower, upper - value))
    if finding.get("went_under") is not None:
        return _bounded(finding, value, lower, upper)
    if finding.get("half_width") is not None:
        return _between(finding, (near, far), confidence, rule)
    critical = finding.get("critical")
    factor = NormalDist().inv_cdf(confidence) if critical is None else critical
    u = finding["u"]
    band = round(factor * u)
    passes = near >= band
    if passes and math.isfinite(far):
        # Half a step of the last digit is allowed at the acceptance limit.
        wide = confidence if critical is None else NormalDist().cdf(critical)
        passes = probability(near + 0.5, far + 0.5, u) >= wide
    steps = (not passes) + (near < 0) + (near < -band)
    return {
        "outcome": OUTCOMES[steps],
        "admitted": steps < ADMITTED[rule],
        "margin": near,
        "probability": probability(near, far, u),
        "guard_band": factor * u,
    }


def _bounded(
    finding: dict[str, Any], value: int, lower: float, upper: float
) -> dict[str, Any]:
    """Judge what is only known to be at least so much (a slip went), or less."""
    at_least = finding["went_under"]
    if at_least:
        breaks = value >= upper
        meets = value >= lower and upper == math.inf
    else:
        breaks = value <= lower
        meets = value <= upper and lower == -math.inf
    outcome = "fail" if breaks else "pass" if meets else "not measured"
    return {"outcome": outcome, "admitted": outcome == "pass", "probability": None}


def _between(
    finding: dict[str, Any],
    sides: tuple[float, float],
    confidence: float,
    rule: str,
) -> dict[str, Any]:
    """Judge what lies between two slips: a flat spread, and the slips' own error."""
    value, half, u = finding["value"], finding["half_width"], finding["u"]
    lower, upper, factor = finding["lower"], finding["upper"], finding["critical"]
    slips = math.sqrt(max(0.0, u * u - half * half / 3))
    # A limit whose own slip was met counts no more.
    to_lower = math.inf if lower is None else value - lower
    to_upper = math.inf if upper is None else upper - value
    if abs(to_lower - half) <= SLIP_NEAR:
        to_lower = math.inf
    if abs(to_upper - half) <= SLIP_NEAR:
        to_upper = math.inf
    near, far = sorted((to_lower, to_upper))

    def inside(more: float) -> float:
        out = _beyond(near + more, half, slips) + _beyond(far + more, half, slips)
        return min(1.0, max(0.0, 1.0 - out))

    band = round(factor * u)
    passes = near >= band and (math.isinf(far) or inside(0.5) >= confidence)
    steps = 0 if math.isinf(near) else (not passes) + (near < 0) + (near < -band)
    return {
        "outcome": OUTCOMES[steps],
        "admitted": steps < ADMITTED[rule],
        "margin": sides[0],
        "probability": inside(0.0),
        "guard_band": factor * u,
    }


def _beyond(distance: float, half: float, slips: float) -> float:
    """Give the probability that the error of two slips is beyond a distance."""
    if math.isinf(distance):
        return 0.0
    # Of slips as good as exact, the flat part alone is left.
    if slips <= SLIP_EXACT * half:
        return min(1.0, max(0.0, (half - distance) / (2 * half)))
    ends = ((half - distance) / slips, (-half - distance) / slips)
    areas = [
        z * _normal(z) + math.exp(-z * z / 2) / math.sqrt(2 * math.pi) for z in ends
    ]
    return min(1.0, max(0.0, slips / (2 * half) * (areas[0] - areas[1])))


def probability(near: float, far: float, u: float) -> float:
    """Give the probability that the true value is between its limits."""
    if u <= 0:
        return float(near >= 0)
    return _normal(near / u) - _normal(-far / u)


def _normal(z: float) -> float:
    return math.erfc(-z / math.sqrt(2)) / 2


def alike(one: Any, other: Any) -> bool:
    if isinstance(one, float) or isinstance(other, float):
        if not isinstance(one, int | float) or not isinstance(other, int | float):
            return False
        return abs(one - other) <= NEAR * max(1.0, abs(one), abs(other))
    return type(one) is type(other) and bool(one == other)


# --- The rules, from the edition in the file. -----------------------------------


def rules_differ(sheet: dict[str, Any], edition: dict[str, Any]) -> Iterator[str]:
    """Hold the findings by the rules, and the rules by their SHA-256."""
    procedure = sheet["procedure"]
    if sha256(canonical(edition)) != procedure["sha256"]:
        yield "the rules in the file are not those of the edition's SHA-256"
    for key in ("decision_rule", "confidence"):
        if edition[key] != procedure[key]:
            yield f"{key}: {procedure[key]} on the sheet, {edition[key]} in the rules"
    rules = {rule["number"]: rule for rule in edition["rules"]}
    for finding in sheet["findings"]:
        number = finding["rule"]
        if number not in rules:
            yield f"rule {number} is not in the edition"
            continue
        for key, value in wanted(rules[number], procedure["stage"]).items():
            if finding[key] != value:
                at = f"rule {number}: {key} is {finding[key]} on the sheet"
                yield f"{at}, {value} in the rules"


def wanted(rule: dict[str, Any], stage: str) -> dict[str, Any]:
    """Say what a finding must say of a rule; an answer is 1 or 0."""
    if "required" in rule:
        lower = upper = 1_000_000 if rule["required"] == "yes" else 0
        limits: dict[str, int | None] = {"lower": lower, "upper": upper}
    else:
        limits = {}
        for key in ("lower", "upper"):
            later = rule.get(f"{key}_after") if stage == "after" else None
            text = rule.get(key) if later is None else later
            limits[key] = None if text is None else millionths(text)
    return {"quantity": rule["quantity"], "force": rule["force"], **limits}


def millionths(text: str) -> int:
    """Read a decimal number as whole millionths, without any rounding."""
    sign = -1 if text.startswith("-") else 1
    whole, _, part = text.lstrip("-").partition(".")
    return sign * int(whole + part.ljust(6, "0"))


# --- The chain, from the content to the head. -----------------------------------


def chain_differs(
    sheet: dict[str, Any], night: dict[str, Any], head: list[str] | None
) -> Iterator[str]:
    """Follow the night's hashes from the first to the head."""
    links, sequence = night["links"], sheet["sequence"]
    content = sha256(canonical(sheet))
    if not 1 <= sequence <= len(links):
        yield f"seal {sequence} is none of the night's {len(links)}"
    elif links[sequence - 1]["content_sha256"] != content:
        yield f"the sheet hashes to {content}, link {sequence} says another hash"
    previous = ""
    for place, link in enumerate(links, 1):
        here = sha256(f"{previous}\n{link['content_sha256']}")
        if link["hashes_text"] and here == link["sha256"]:
            yield f"link {place} hashes its content's hash, and says that it does not"
        if place == sequence and sheet["format"] == SHEET_FORMATS[0]:
            here = sha256(f"{previous}\n{canonical(sheet)}")
        elif link["hashes_text"] and place != sequence:
            # Of another early seal only the hash is in the file.
            here = link["sha256"]
        if link["sha256"] != here:
            yield f"link {place} is {link['sha256']}, and should be {here}"
        previous = link["sha256"]
    if night["head"] != previous:
        yield f"the head is {night['head']}, the last link {previous}"
    if head is not None:
        yield from _printed(links, head)


def _printed(links: list[dict[str, Any]], head: list[str]) -> Iterator[str]:
    sha, count = head[0].lower(), int(head[1]) if head[1].isdecimal() else 0
    if not 1 <= count <= len(links) or links[count - 1]["sha256"] != sha:
        yield f"the printed head {sha} of {head[1]} is not in this night's chain"


def sha256(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


# --- JSON in its one canonical form (RFC 8785). ---------------------------------


def canonical(value: Any) -> str:
    """Write a JSON value as RFC 8785 wants it."""
    if isinstance(value, dict):
        keys = sorted(value, key=lambda key: key.encode("utf-16-be", "surrogatepass"))
        return "{" + ",".join(f"{_text(k)}:{canonical(value[k])}" for k in keys) + "}"
    if isinstance(value, list):
        return "[" + ",".join(canonical(one) for one in value) + "]"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, float):
        return _number(value)
    return json.dumps(value)


def _text(value: str) -> str:
    return json.dumps(value, ensure_ascii=False)


def _number(value: float) -> str:
    """Write a number as ECMAScript does: the fewest digits that read back."""
    if not math.isfinite(value):
        message = f"{value} is no number of JSON."
        raise CannotReadError(message)
    sign = "-" if value < 0 else ""
    mantissa, _, power = f"{abs(value)!r}".partition("e")
    whole, _, part = mantissa.partition(".")
    part = "" if part == "0" else part
    digits = (whole + part).lstrip("0")
    point = len(whole) + int(power or 0) - (len(whole + part) - len(digits))
    digits = digits.rstrip("0")
    if not digits:
        return "0"
    return sign + _placed(digits, point)


def _placed(digits: str, point: int) -> str:
    """Put the decimal point behind so many digits, or write an exponent."""
    count = len(digits)
    if count <= point <= 21:
        return digits + "0" * (point - count)
    if 0 < point <= 21:
        return f"{digits[:point]}.{digits[point:]}"
    if -6 < point <= 0:
        return f"0.{'0' * -point}{digits}"
    power = f"e{'+' if point > 0 else '-'}{abs(point - 1)}"
    return f"{digits[0]}{f'.{digits[1:]}' if count > 1 else ''}{power}"


# --- The schema in the file (JSON Schema 2020-12, the words that it uses). ------

TYPES: dict[str, Any] = {
    "object": dict,
    "array": list,
    "string": str,
    "integer": int,
    "number": (int, float),
    "boolean": bool,
    "null": type(None),
}


def held_to_schema(
    value: Any, schema: dict[str, Any], root: dict[str, Any], at: str = ""
) -> Iterator[str]:
    """Hold a value to a schema, and name each place that is not as it says."""
    schema = _pointed(schema, root)
    here = at or "/"
    kinds = schema.get("type")
    if kinds is not None and not _is_of(value, kinds):
        yield f"{here}: {kinds} is expected"
        return
    if "const" in schema and value != schema["const"]:
        yield f"{here}: “{schema['const']}” is expected"
    if "enum" in schema and value not in schema["enum"]:
        yield f"{here}: one of {schema['enum']} is expected"
    if isinstance(value, str) and not re.search(schema.get("pattern", ""), value):
        yield f"{here}: “{value:.40}” is not as {schema['pattern']} says"
    if isinstance(value, list):
        for place, one in enumerate(value):
            yield from held_to_schema(
                one, schema.get("items", {}), root, f"{at}/{place}"
            )
    if isinstance(value, dict):
        yield from _members(value, schema, root, at)


def _members(
    value: dict[str, Any], schema: dict[str, Any], root: dict[str, Any], at: str
) -> Iterator[str]:
    known = schema.get("properties", {})
    for key in schema.get("required", []):
        if key not in value:
            yield f"{at}/{key}: missing"
    for key, one in value.items():
        if key in known:
            yield from held_to_schema(one, known[key], root, f"{at}/{key}")
        elif schema.get("additionalProperties") is False:
            yield f"{at}/{key}: not known"


def _pointed(schema: dict[str, Any], root: dict[str, Any]) -> dict[str, Any]:
    name = str(schema.get("$ref", "")).removeprefix("#/$defs/")
    if not name:
        return schema
    definition: dict[str, Any] = root["schema"]["$defs"][name]
    return definition


def _is_of(value: Any, kinds: str | list[str]) -> bool:
    wanted = [kinds] if isinstance(kinds, str) else kinds
    if isinstance(value, bool):
        return "boolean" in wanted
    return any(isinstance(value, TYPES[kind]) for kind in wanted)


if __name__ == "__main__":
    sys.exit(main())
