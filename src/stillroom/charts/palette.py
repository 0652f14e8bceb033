"""The house's colours by role, light and dark, and the contrast between two colours.

A drawing names roles only (`var(--ink)`); a theme puts the colours in. Quiet bars are lighter than 3:1
against paper on purpose, so each has an edge that isn't. Contrast: WCAG 2.2, 1.4.3 and 1.4.11, relative
luminance as defined there.
"""

from __future__ import annotations

import re
from enum import StrEnum

from stillroom.errors import BadInput


class Theme(StrEnum):
    """Light paper or dark."""

    LIGHT = "light"
    DARK = "dark"


PALETTES: dict[Theme, dict[str, str]] = {
    Theme.LIGHT: {
        "paper": "#FBFAF7",
        "ink": "#1E2430",
        "muted": "#565D69",
        "hairline": "#D9D5CC",
        "axis": "#8A8F98",
        "quiet": "#B9BEC6",
        "pale": "#8A909A",
        "quiet-edge": "#7E858F",
        "tied": "#6B7380",
        "tied-edge": "#4D5562",
        "accent": "#0B6E6E",
        "loud": "#04343F",
        "order": "#9C3A12",
        "stroke": "#EBD3A6",
        "warn": "#9A5B00",
        "block": "#A63D2F",
        "hue-1": "#288FCF",
        "hue-2": "#C44F22",
        "hue-3": "#712653",
        "hue-4": "#BB7B1F",
        "hue-5": "#25A176",
        "shade-1": "#0B95C4",
        "shade-2": "#1B89CF",
        "shade-3": "#3E73C5",
        "shade-4": "#515DB6",
        "shade-5": "#5B47A1",
        "shade-6": "#603288",
        "shade-7": "#601D6B",
        "shade-8": "#5C034D",
        "shade-9": "#4E002E",
        "shade-10": "#3E0014",
    },
    Theme.DARK: {
        "paper": "#0F141B",
        "ink": "#ECE8DF",
        "muted": "#A9AEB6",
        "hairline": "#2C333D",
        "axis": "#6F7783",
        "quiet": "#2F3742",
        "pale": "#747D89",
        "quiet-edge": "#717A87",
        "tied": "#77808D",
        "tied-edge": "#A3ABB6",
        "accent": "#5CC2B8",
        "loud": "#C4F4EC",
        "order": "#FFB37A",
        "stroke": "#5B4314",
        "warn": "#E0A13A",
        "block": "#E98A78",
        "hue-1": "#408BD4",
        "hue-2": "#BE540C",
        "hue-3": "#A75C82",
        "hue-4": "#F6B715",
        "hue-5": "#6FC69A",
        "shade-1": "#3861B5",
        "shade-2": "#5D67C2",
        "shade-3": "#8070CE",
        "shade-4": "#A279D6",
        "shade-5": "#C283D9",
        "shade-6": "#E18DD9",
        "shade-7": "#FF9AD6",
        "shade-8": "#FEBAD0",
        "shade-9": "#FED5D9",
        "shade-10": "#FFEDEB",
    },
}

HUES = tuple(f"hue-{step}" for step in range(1, 6))
"""Categories: blue, vermilion, purple, ochre, green, after Okabe & Ito (as in Wong, Nature Methods 8, 2011, 441),
their lightness moved until each holds 3:1 on the paper; never without a shape or a word."""

SHADES = tuple(f"shade-{step}" for step in range(1, 11))
"""Steps of an ordered quantity, from pale to deep: lightness and hue move together, so that neighbours differ
for those who don't see red and green apart."""


def role(name: str) -> str:
    """A role as a drawing names it."""
    if name not in PALETTES[Theme.LIGHT]:
        raise BadInput("colour role", found=repr(name), expected=", ".join(PALETTES[Theme.LIGHT]))
    return f"var(--{name})"


def coloured(drawing: str, theme: Theme) -> str:
    """A drawing with the theme's colours in place of the roles; words that look like a role stay words."""
    return re.sub(r'"var\(--([a-z0-9-]+)\)"', lambda found: f'"{PALETTES[theme][found[1]]}"', drawing)


def luminance(colour: str) -> float:
    """Relative luminance of "#RRGGBB" (WCAG 2.2) [1]."""
    parts = (int(colour[index : index + 2], 16) / 255 for index in (1, 3, 5))
    red, green, blue = (
        each / 12.92 if each <= 0.04045 else ((each + 0.055) / 1.055) ** 2.4 for each in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(first: str, second: str) -> float:
    """Contrast ratio of two colours (WCAG 2.2), 1 to 21."""
    dark, light = sorted((luminance(first), luminance(second)))
    return (light + 0.05) / (dark + 0.05)
