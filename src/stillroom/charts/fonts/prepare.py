"""Make the two bundled font files from the published Inter 4 faces.

Run once when the font is renewed, never at run time:

    python prepare.py Inter-Regular.woff2 Inter-SemiBold.woff2

What it changes (the SIL Open Font Licence allows it; Inter reserves no font name): the figures in the
character map are the tabular ones, so that every renderer sets numbers in columns; scripts other than
Latin, Greek and Cyrillic, and features that charts don't use, are left out; the family is renamed
"Stillroom Sans" so that it can't be mixed up with an Inter that a reader's machine carries.
"""

from __future__ import annotations

import sys
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

FAMILY = "Stillroom Sans"
RANGES = (
    (0x20, 0x17F), (0x18F, 0x192), (0x1A0, 0x1FF), (0x218, 0x21B), (0x2B0, 0x2DD), (0x300, 0x33F),
    (0x370, 0x3FF), (0x400, 0x45F), (0x490, 0x491), (0x1E00, 0x1EFF), (0x2000, 0x206F), (0x2070, 0x209F),
    (0x20A0, 0x20BF), (0x2100, 0x214F), (0x2150, 0x218B), (0x2190, 0x2199), (0x2200, 0x22FF),
    (0x25A0, 0x25FF), (0x2713, 0x2717),
)  # fmt: skip
WEIGHTS = {400: "Regular", 600: "SemiBold"}


def tabular_figures(font: TTFont) -> dict[str, str]:
    """The font's own map from proportional to tabular figures (its feature `tnum`)."""
    table = font["GSUB"].table
    mapping: dict[str, str] = {}
    for record in table.FeatureList.FeatureRecord:
        if record.FeatureTag == "tnum":
            for index in record.Feature.LookupListIndex:
                for part in table.LookupList.Lookup[index].SubTable:
                    mapping |= getattr(getattr(part, "ExtSubTable", part), "mapping", {})
    return mapping


def prepare(source: Path, folder: Path) -> Path:
    """Write one prepared face into `folder`."""
    font = TTFont(source, recalcTimestamp=False)
    font.flavor = None
    tabular = tabular_figures(font)
    for table in font["cmap"].tables:
        for code in range(ord("0"), ord("9") + 1):
            if code in table.cmap:
                table.cmap[code] = tabular.get(table.cmap[code], table.cmap[code])
    options = subset.Options()
    options.layout_features = ["kern", "ccmp", "mark", "mkmk", "locl"]
    options.hinting = False
    options.name_IDs = [0, 5, 13, 14]
    shrink = subset.Subsetter(options)
    shrink.populate(unicodes=[code for low, high in RANGES for code in range(low, high + 1)])
    shrink.subset(font)
    style = WEIGHTS[font["OS/2"].usWeightClass]
    names = {1: f"{FAMILY} {style}", 2: "Regular", 4: f"{FAMILY} {style}", 6: f"StillroomSans-{style}",
             16: FAMILY, 17: style}  # fmt: skip
    for number, words in names.items():
        font["name"].setName(words, number, 3, 1, 0x409)
    target = folder / f"StillroomSans-{style}.ttf"
    font.save(target)
    return target


if __name__ == "__main__":
    for each in sys.argv[1:]:
        print(prepare(Path(each), Path(__file__).parent))
