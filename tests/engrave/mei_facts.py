"""Checks MEI against facts of the published schema (tests/data/mei5_facts.toml).

The schema itself is not in the registries of packages, so it cannot be asked in every run. What it
says of our elements is kept as a table: allowed attributes and values, needed ones, the order of
children, and its rules beyond the grammar.

References
----------
Music Encoding Initiative, MEI 5.1, basic profile (mei-basic), RelaxNG and Schematron.
"""

from __future__ import annotations

import re
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from lxml import etree

FACTS = Path(__file__).parents[1] / "data" / "mei5_facts.toml"
NS = "http://www.music-encoding.org/ns/mei"
_XML = "{http://www.w3.org/XML/1998/namespace}"

Row = dict[str, Any]


@cache
def facts() -> dict[str, dict[str, Row]]:
    """Tables of facts: name of the table -> id -> row."""
    read = tomllib.loads(FACTS.read_text(encoding="utf-8"))
    return {table: {row["id"]: row for row in rows} for table, rows in read.items()}


@cache
def _fits(datatype: str) -> re.Pattern[str]:
    row = facts()["datatype"][datatype]
    pattern = row["pattern"] if "pattern" in row else "|".join(map(re.escape, row["values"]))
    return re.compile(pattern)


@cache
def _children(content: str) -> re.Pattern[str]:
    """A pattern over names as one over ``<name>`` text."""
    return re.compile(re.sub(r"\s+", "", re.sub(r"[A-Za-z]+", r"(?:<\g<0>>)", content)))


@cache
def _attributes(element: str) -> dict[str, str]:
    row = facts()["element"][element]
    out: dict[str, str] = {}
    for name in row.get("sets", ()):
        out |= facts()["attributes"][name]["attributes"]
    out |= row.get("attributes", {})
    return out


def _mistakes_of(element: Any) -> list[str]:
    name = etree.QName(element).localname
    if etree.QName(element).namespace != NS or name not in facts()["element"]:
        return [f"{name}: an element of which nothing is known"]
    row = facts()["element"][name]
    out = []
    allowed = _attributes(name)
    for key, value in element.attrib.items():
        plain = key.replace(_XML, "xml:")
        if plain not in allowed:
            out.append(f"{name}: has no attribute {plain}")
        elif not _fits(allowed[plain]).fullmatch(value):
            out.append(f"{name}: {plain}={value!r} is no {allowed[plain]}")
    out += [f"{name}: lacks {key}" for key in row.get("needs", ()) if key not in element.attrib]
    inside = "".join(f"<{etree.QName(child).localname}>" for child in element)
    if not _children(row["content"]).fullmatch(inside):
        out.append(f"{name}: may not hold {inside}")
    words = [element.text, *(child.tail for child in element)]
    if not row.get("text") and any(w and w.strip() for w in words):
        out.append(f"{name}: holds words")
    return out


def mistakes(mei: str) -> list[str]:
    """Everything in an MEI document that the facts forbid; the parser refuses an id given twice."""
    root = etree.fromstring(mei.encode())
    out = [] if etree.QName(root).localname == "mei" else ["the root is not mei"]
    for element in root.iter():
        out += _mistakes_of(element)
    for rule in facts()["rule"].values():
        for node in root.xpath(rule["at"], namespaces={"m": NS}):
            given = {k: node.get(k, "") for k in ("n", "startid", "endid")}
            if not node.xpath(f"boolean({rule['holds']})", namespaces={"m": NS}, **given):
                out.append(f"{etree.QName(node).localname}: broken is “{rule['id']}”")
    return out
