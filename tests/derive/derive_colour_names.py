"""Derive blendkit/data/colour_names.csv: names that people give to colours, from a published survey.

Source: the colour-naming survey of xkcd (R. Munroe 2010, some 222,000 people, five million answers), whose
table of names is given away under CC0; it is read from matplotlib, which ships it. Of the names those are taken
that are in common use on paper and cloth; ruder and rarer ones, and twins in spelling, are left out (own
judgement). One name a row, the one that most people used first; the colour is the survey's, unchanged.

Run: python tests/derive/derive_colour_names.py
"""

from pathlib import Path

from matplotlib.colors import XKCD_COLORS

NAMES = """
white, off white, ivory, cream, beige, tan, sand, khaki, mustard, dark mustard, ochre, gold, pale yellow,
light yellow, lemon, yellow, golden yellow, goldenrod, saffron, butter, straw, wheat, buff, stone, putty,
fawn, camel, caramel, bronze, copper, peach, apricot, light orange, orange, burnt orange, dark orange,
pumpkin, rust, terracotta, brick, brick red, red, bright red, dark red, deep red, crimson, scarlet, maroon,
burgundy, wine, mahogany, rose, dusty rose, dusty pink, old rose, pale rose, pink, light pink, pale pink,
hot pink, deep pink, salmon, light salmon, pale salmon, coral, blush, magenta, dark magenta, fuchsia,
cerise, plum, dark plum, eggplant, purple, light purple, dark purple, dusty purple, deep purple, pale
purple, violet, dark violet, lavender, pale lavender, lilac, pale lilac, mauve, pale mauve, dark mauve,
heather, periwinkle, indigo, navy, dark navy, midnight blue, royal blue, cobalt, blue, bright blue, light
blue, pale blue, dark blue, deep blue, sky blue, baby blue, powder blue, steel blue, slate blue, slate,
denim, cornflower, azure, cerulean, dusty blue, grey blue, ice blue, blue grey, teal, dark teal, deep teal,
dull teal, turquoise, dark turquoise, pale turquoise, aqua, pale aqua, cyan, pale cyan, aquamarine, mint,
seafoam, sea green, dark sea green, jade, emerald, green, light green, pale green, dark green, bright green,
deep green, forest green, grass green, leaf green, spring green, apple green, lime, lime green, pale lime,
chartreuse, avocado, olive, dark olive, light olive, olive green, dark olive green, pale olive green, olive
drab, moss, moss green, fern, sage, pale grey, grey green, dusty green, light sage, light moss green, hunter
green, light khaki, dark khaki, pea green, pear, celery, black, charcoal, charcoal grey, dark grey, grey,
light grey, silver, warm grey, cool grey, slate grey, dark slate blue, greenish grey, purplish grey, pinkish
grey, brownish grey, taupe, dark taupe, brown, light brown, dark brown, very dark brown, pale brown, reddish
brown, dark tan, light tan, chocolate, chocolate brown, milk chocolate, chestnut, sienna, burnt sienna,
umber, burnt umber, raw umber, sepia, coffee, mocha, mushroom, sandstone, adobe, clay, cocoa, dark rose,
raspberry, cranberry, cherry, tomato, melon, pale peach, light peach, pale orange, light beige, dark beige,
ecru, eggshell, parchment, very light blue, very light green, very light pink, very light purple, marigold,
amber, sunflower, dusty orange, dusty red, dusty lavender, dusty teal, pale teal, light teal, light
turquoise, light aqua, light lavender, light lilac, light violet, pale violet, pale magenta, dark lavender,
dark coral, dark salmon, dark gold, light gold, pale gold, dark lime, dark mint, light mint, dark sand, dark
peach, light mustard, light maroon, dark maroon
"""


def main() -> None:
    """Write the table, the commonest name first: the survey lists the rarest first."""
    names = list(dict.fromkeys(" ".join(name.split()) for name in NAMES.split(",")))
    known = {key.removeprefix("xkcd:"): code for key, code in XKCD_COLORS.items()}
    missing = [name for name in names if name not in known]
    lines = [
        "# Names that people give to colours: a choice from the xkcd colour survey (R. Munroe 2010), CC0, as\n"
        "# shipped with matplotlib; chosen by tests/derive/derive_colour_names.py. The commonest comes first.",
        "name,hex",
        *(f"{name},{known[name]}" for name in reversed(known) if name in names),
    ]
    path = Path(__file__).parents[2] / "blendkit" / "data" / "colour_names.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    print(f"{len(names) - len(missing)} names; not in the survey: {', '.join(missing) or 'none'}")


if __name__ == "__main__":
    main()
