"""Charts read back: where the corners of a path, the marks and the words of a drawing are, in per cent of the plot."""

import re
from xml.etree import ElementTree

import pytest

Place = tuple[float, float]


def parsed(chart: str) -> ElementTree.Element:
    return ElementTree.fromstring(f"<figure>{chart}</figure>")


def plot(chart: str) -> ElementTree.Element:
    (found,) = (each for each in parsed(chart) if each.tag == "svg")
    return found


def corners(chart: str, kind: str) -> list[Place]:
    """The places that the paths of a kind run through."""
    places: list[Place] = []
    for each in plot(chart).iter("path"):
        if each.get("class") == kind:
            places += walked(each.attrib["d"])
    return places


def walked(data: str) -> list[Place]:
    x = y = 0.0
    places = []
    for letter, numbers in re.findall(r"([MLHV])([-\d. ]+)", data):
        values = [float(each) for each in numbers.split()]
        x = values[0] if letter in "MLH" else x
        y = values[-1] if letter in "MLV" else y
        places.append((x, y))
    return places


def marks(chart: str, shape: str) -> list[Place]:
    """Where the marks of a shape stand."""
    found = (each for each in plot(chart).iter("svg") if "%" in each.get("x", ""))
    return [(percent(each, "x"), percent(each, "y")) for each in found if each[0].get("class") == shape]


def percent(element: ElementTree.Element, name: str) -> float:
    return float(element.attrib[name].removesuffix("%"))


def words(chart: str) -> dict[str, Place]:
    return {each.text or "": (percent(each, "x"), percent(each, "y")) for each in plot(chart).iter("text")}


def near(places: list[Place]) -> list[Place]:
    return [pytest.approx(place, abs=0.06) for place in places]
