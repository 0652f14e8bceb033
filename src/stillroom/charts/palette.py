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
        "quiet-edge": "#7E858F",
        "tied": "#6B7380",
        "tied-edge": "#4D5562",
        "accent": "#0B6E6E",
        "band": "#E4E5E6",
        "accent-band": "#D3E3E0",
        "warn": "#9A5B00",
        "block": "#A63D2F",
        "shade-1": "#7C91A8",
        "shade-2": "#6B849E",
        "shade-3": "#54708D",
        "shade-4": "#3C5876",
        "shade-5": "#26405D",
        "shade-6": "#142A45",
    },
    Theme.DARK: {
        "paper": "#0F141B",
        "ink": "#ECE8DF",
        "muted": "#A9AEB6",
        "hairline": "#2C333D",
        "axis": "#6F7783",
        "quiet": "#2F3742",
        "quiet-edge": "#717A87",
        "tied": "#77808D",
        "tied-edge": "#A3ABB6",
        "accent": "#5CC2B8",
        "band": "#252C36",
        "accent-band": "#17393B",
        "warn": "#E0A13A",
        "block": "#E98A78",
        "shade-1": "#5C7A99",
        "shade-2": "#7291AF",
        "shade-3": "#8BA7C2",
        "shade-4": "#A4BCD3",
        "shade-5": "#BFD1E2",
        "shade-6": "#DCE7F1",
    },
}

SHADES = tuple(f"shade-{step}" for step in range(1, 7))


def role(name: str) -> str:
    """A role as a drawing names it."""
    if name not in PALETTES[Theme.LIGHT]:
        raise BadInput("colour role", found=repr(name), expected=", ".join(PALETTES[Theme.LIGHT]))
    return f"var(--{name})"


def coloured(drawing: str, theme: Theme) -> str:
    """A drawing with the theme's colours in place of the roles."""
    return re.sub(r"var\(--([a-z0-9-]+)\)", lambda found: PALETTES[theme][found[1]], drawing)


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
