"""The script of the demo book, "The Lamp on Quill Rock": an invented story of our own.

Imra Vell keeps the light on Quill Rock with a boy, a cat and a machine. One night the lamp
goes out, and something at sea answers in its place.
"""

from __future__ import annotations

from panelscan.demo.script import PageScript, Shot

IMRA, TOBIN, CUSTARD, CLACK = "Imra", "Tobin", "Custard", "Clack"


def _page(
    tiers: tuple[int, ...], *shots: Shot, traits: str = "", wear: str = "", sheet: str = ""
) -> PageScript:
    return PageScript(tiers, shots, frozenset(traits.split()), wear, sheet)


PAGES: tuple[PageScript, ...] = (
    _page(  # 1: cover, off all edges
        (1,),
        Shot("sea", (IMRA, CUSTARD), "long", title="The Lamp|on Quill Rock", pose="point"),
        traits="splash",
    ),
    _page(  # 2
        (1, 3, 2),
        Shot("sea", (), "long", caption="Quill Rock, the last house before the sea."),
        Shot("room", (IMRA,), "medium", ((IMRA, "Oil, wick, glass."),)),
        Shot("tone", (IMRA,), "close", ((IMRA, "Forty years, and not one night dark."),)),
        Shot("room", (CUSTARD,), "medium", effect="PRRR"),
        Shot("street", (TOBIN,), "long", ((TOBIN, "I brought bread!"),), pose="run", mood="glad"),
        Shot(
            "room",
            (TOBIN, IMRA),
            "medium",
            ((IMRA, "You are late."), (TOBIN, "The tide was early.")),
        ),
    ),
    _page(  # 3
        (2, 2, 2),
        Shot("room", (IMRA, TOBIN), "medium", ((TOBIN, "Is it true that she sank out there?"),)),
        Shot("tone", (IMRA,), "close", ((IMRA, "Eat your soup."),), mood="sad"),
        Shot("room", (CLACK,), "medium", ((CLACK, "Tik. Tik. Clack found this in the sand."),)),
        Shot("desk", (), "long", ((TOBIN, "A letter?"),)),
        Shot(
            "tone",
            (TOBIN, IMRA),
            "close",
            ((IMRA, "Give me that."), (TOBIN, "It has your name on it.")),
            mood="startled",
        ),
        Shot("night", (CUSTARD,), "medium", effect="TOK"),
        wear="scan",
    ),
    _page(  # 4: slanted
        (2, 1, 3),
        Shot("starry", (), "long", caption="An hour before midnight."),
        Shot(
            "room", (TOBIN,), "medium", ((TOBIN, "Imra! The light!"),), pose="run", mood="startled"
        ),
        Shot(
            "speed", (IMRA,), "medium", ((IMRA, "No!"),), pose="run", mood="startled", effect="WHAP"
        ),
        Shot("tone", (IMRA,), "close", ((IMRA, "Up. Up!"),), mood="cross"),
        Shot("room", (TOBIN, CLACK), "long", ((CLACK, "Two hundred and nine steps. Tik."),)),
        Shot("night", (IMRA,), "medium", ((IMRA, "It is out."),), mood="sad"),
        traits="slanted",
    ),
    _page(  # 5: black gutters
        (1, 2, 2),
        Shot("night", (IMRA, TOBIN), "long", caption="And so the lamp went out."),
        Shot("night", (IMRA,), "close", ((IMRA, "It was burning an hour ago."),)),
        Shot("night", (TOBIN,), "close", ((TOBIN, "Somebody has cut the wick."),), mood="startled"),
        Shot("starry", (), "long", effect="RRRUM"),
        Shot("night", (CUSTARD,), "close", ((TOBIN, "Custard hears it too."),)),
        traits="black",
    ),
    _page(  # 6: a tier that bleeds
        (1, 2, 1),
        Shot("sea", (), "long", caption="Far out, something answered."),
        Shot(
            "tone",
            (IMRA, TOBIN),
            "close",
            ((TOBIN, "A light! On the water!"), (IMRA, "There is nothing out there.")),
        ),
        Shot("desk", (), "long", ((IMRA, "'Midnight,' it says."),)),
        Shot("sea", (IMRA, TOBIN, CLACK), "long", ((IMRA, "Get the boat."),), pose="point"),
        traits="bleed-top bleed-left bleed-right",
    ),
    _page(  # 7: insets
        (1, 2),
        Shot("sea", (IMRA, TOBIN), "long", ((TOBIN, "It is going the wrong way."),), pose="reach"),
        Shot("tone", (IMRA,), "close", ((IMRA, "Hold on."),), mood="cross"),
        Shot("tone", (TOBIN,), "close", mood="startled"),
        Shot("sea", (TOBIN,), "medium", ((TOBIN, "Why did we bring a spoon?"),)),
        Shot("tone", (IMRA,), "close", ((IMRA, "You will see."),), mood="glad"),
        traits="inset2",
    ),
    _page(  # 8 and 9: facing pages in one picture
        (2, 3),
        Shot("sea", (), "long", caption="The wreck of the Merry Lark."),
        Shot("sea", (IMRA, TOBIN), "medium", ((TOBIN, "She is still afloat?"),)),
        Shot("tone", (IMRA,), "close", ((IMRA, "No."),), mood="startled"),
        Shot("night", (TOBIN,), "medium", ((TOBIN, "Then what is that?"),)),
        Shot("tone", (CUSTARD,), "close", effect="HSSS"),
        sheet="left",
    ),
    _page(
        (3, 1, 2),
        Shot("night", (IMRA,), "medium", ((IMRA, "Three knocks."),), effect="TOK"),
        Shot("night", (IMRA,), "medium", effect="TOK"),
        Shot("night", (TOBIN,), "medium", effect="TOK"),
        Shot(
            "night",
            (IMRA, TOBIN),
            "long",
            ((IMRA, "Then two. That was our sign."), (TOBIN, "Whose sign?")),
        ),
        Shot("tone", (IMRA,), "close", ((IMRA, "My sister's."),), mood="sad"),
        Shot("sea", (CLACK,), "medium", ((CLACK, "Tik. Something is below."),)),
        sheet="right",
    ),
    _page(  # 10: memory in coloured pencil, shaky borders
        (1, 2, 2),
        Shot("hills", (IMRA, TOBIN), "long", caption="Thirty years ago."),
        Shot(
            "hills",
            (IMRA,),
            "medium",
            ((IMRA, "I will keep the light. You take the boat."),),
            mood="glad",
        ),
        Shot("sea", (), "long"),
        Shot("tone", (IMRA,), "close", ((IMRA, "Come back before the bells."),)),
        Shot("starry", (IMRA,), "long", caption="She did not."),
        traits="hand memory",
    ),
    _page(  # 11: memory
        (2, 1, 3),
        Shot("room", (IMRA,), "medium", caption="Every night since."),
        Shot("sea", (), "long"),
        Shot("street", (IMRA, TOBIN), "long", ((TOBIN, "Is she still waiting?"),)),
        Shot("tone", (IMRA,), "close"),
        Shot("desk", (), "long"),
        Shot("tone", (CUSTARD,), "close", effect="PRRR"),
        traits="hand memory",
        wear="poor",
    ),
    _page(  # 12: no borders
        (1, 2, 1),
        Shot("sea", (IMRA, TOBIN), "long", ((TOBIN, "The water is warm."),)),
        Shot("hills", (TOBIN,), "medium", ((TOBIN, "There is a rock that was not here."),)),
        Shot("sea", (IMRA,), "close", ((IMRA, "It is no rock."),), mood="startled"),
        Shot("starry", (IMRA, TOBIN), "long", effect="RRRUM"),
        traits="bare",
    ),
    _page(  # 13: figures break out
        (2, 2),
        Shot(
            "speed", (TOBIN,), "long", ((TOBIN, "Row!"),), pose="run", mood="startled", burst=True
        ),
        Shot("sea", (IMRA,), "medium", ((IMRA, "I am rowing!"),), effect="SPLASH"),
        Shot("sea", (CLACK,), "long", ((CLACK, "Tik tik tik tik."),), burst=True),
        Shot("speed", (IMRA, TOBIN), "medium", ((IMRA, "The spoon, Tobin! Now!"),), effect="CLANG"),
        traits="slanted",
    ),
    _page(  # 14 and 15: one picture across both pages
        (1,),
        Shot(
            "starry",
            (IMRA, TOBIN),
            "long",
            caption="It rose, and it rose, and it was still not all of it.",
        ),
        traits="splash",
        sheet="double",
    ),
    _page(  # 16: many small panels
        (3, 3, 3),
        Shot("tone", (TOBIN,), "close", ((TOBIN, "It is..."),), mood="startled"),
        Shot("tone", (IMRA,), "close", mood="startled"),
        Shot("tone", (CUSTARD,), "close"),
        Shot("night", (), "long", effect="RRUM"),
        Shot("tone", (TOBIN,), "close", ((TOBIN, "...hungry?"),)),
        Shot("tone", (IMRA,), "close", ((IMRA, "The soup pot."),), mood="glad"),
        Shot("room", (CLACK,), "medium", ((CLACK, "Tik. Ladle."),)),
        Shot("tone", (TOBIN,), "close", ((TOBIN, "The very long spoon!"),), mood="glad"),
        Shot("sea", (IMRA,), "medium", effect="SLURP"),
    ),
    _page(  # 17: shared lines, no gutters
        (2, 1, 2),
        Shot("sea", (TOBIN, IMRA), "medium", ((TOBIN, "It likes your soup."),)),
        Shot("tone", (IMRA,), "close", ((IMRA, "Nobody likes my soup."),), mood="cross"),
        Shot(
            "starry",
            (),
            "long",
            caption="It had eaten thirty winters of lamp light, and nothing else.",
        ),
        Shot("night", (TOBIN,), "medium", ((TOBIN, "So it cut the wick?"),)),
        Shot("tone", (IMRA,), "close", ((IMRA, "It was only cold."),), mood="sad"),
        traits="shared",
    ),
    _page(  # 18: tall panel closes a stack
        (2, 2),
        Shot("room", (IMRA,), "medium", ((IMRA, "Hold the ladder."),)),
        Shot("room", (TOBIN,), "medium", ((TOBIN, "Holding."),)),
        Shot("night", (IMRA,), "long", ((IMRA, "New wick. New oil."),), pose="reach"),
        Shot("tone", (TOBIN,), "close", ((TOBIN, "Light it. Now."),)),
        Shot("room", (CLACK, CUSTARD), "long", ((CLACK, "Tik."),)),
        traits="stack",
        wear="scan",
    ),
    _page(  # 19: photo of a page
        (1, 2, 2),
        Shot("sea", (), "long", effect="FWOOSH"),
        Shot("tone", (TOBIN,), "close", ((TOBIN, "Home, Quill Rock!"),), mood="glad"),
        Shot("sea", (IMRA,), "medium", ((IMRA, "There. Do you see her?"),), pose="point"),
        Shot("sea", (), "long", caption="A boat, where no boat could be."),
        Shot("tone", (IMRA,), "close", mood="startled"),
        wear="photo",
    ),
    _page(  # 20: round and odd shapes
        (2, 1, 2),
        Shot("tone", (TOBIN,), "close", ((TOBIN, "I see her."),)),
        Shot("tone", (IMRA,), "close", ((IMRA, "So do I."),), mood="sad"),
        Shot("sea", (IMRA,), "long", caption="The tide waits.", pose="run"),
        Shot("hills", (TOBIN, CLACK), "medium", ((CLACK, "Two hundred and ten steps. Tik."),)),
        Shot("room", (CUSTARD,), "medium", effect="PRRR"),
        traits="round",
    ),
    _page(  # 21: open panels
        (2, 2, 1),
        Shot("blank", (IMRA,), "long", pose="run"),
        Shot("sea", (IMRA,), "medium", ((IMRA, "Orla?"),)),
        Shot("tone", (IMRA,), "close", mood="startled"),
        Shot("blank", (TOBIN, CUSTARD), "medium", ((TOBIN, "Is it really her?"),)),
        Shot("sea", (IMRA, TOBIN), "long", ((TOBIN, "She looks just like you."),)),
        traits="open",
    ),
    _page(  # 22: overlap
        (2, 2),
        Shot("hills", (IMRA,), "long", caption="Morning."),
        Shot("sea", (IMRA, TOBIN), "medium", ((IMRA, "You are thirty years late."),), mood="cross"),
        Shot("room", (TOBIN, IMRA), "medium", ((TOBIN, "Is there soup?"),)),
        Shot("tone", (IMRA,), "close", ((IMRA, "All of it is gone."),), mood="glad"),
        traits="overlap",
    ),
    _page(  # 23
        (1, 3, 1),
        Shot("street", (IMRA, TOBIN, CUSTARD), "long", ((TOBIN, "The whole village is here."),)),
        Shot("room", (CLACK,), "medium", ((CLACK, "Tik."),)),
        Shot("tone", (CUSTARD,), "close"),
        Shot("tone", (TOBIN,), "close", ((TOBIN, "Who keeps the light tonight?"),)),
        Shot("room", (IMRA, TOBIN), "long", ((IMRA, "We all do."),), mood="glad"),
        traits="bleed-bottom bleed-left bleed-right",
    ),
    _page(  # 24: two tall panels
        (2, 1),
        Shot("sea", (), "long", caption="That night..."),
        Shot("room", (IMRA, CUSTARD), "long", ((IMRA, "Sleep, Custard."),)),
        Shot("starry", (), "long", caption="...there were two lights on the sea."),
        wear="poor",
    ),
    _page(  # 25: quiet row
        (1, 1, 1, 1),
        Shot("sea", (), "long"),
        Shot("starry", (TOBIN,), "long"),
        Shot("tone", (TOBIN, CUSTARD), "close", ((TOBIN, "Good night, whatever you are."),)),
        Shot("starry", (), "long", effect="rrrum"),
        traits="black",
    ),
    _page(  # 26: the end, off all edges
        (1,),
        Shot("starry", (IMRA, TOBIN), "long", title="The end"),
        traits="splash",
        wear="photo",
    ),
)
