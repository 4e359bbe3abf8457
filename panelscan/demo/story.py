"""The invented story of the demo book, and loose lines for practice pages."""

from __future__ import annotations

TITLE = "The Lamp on Quill Rock"
KEEPER, BOY, CAT, MACHINE = "Imra Vell", "Tobin Ash", "Custard", "Clack"

LINES = (
    "The lamp is out.", "Again?", "It was burning an hour ago.", "Hold the ladder.",
    "There is someone on the rock.", "No boats in this weather.", "Listen...", "I hear nothing.",
    "Exactly. Even the gulls have stopped.", "Custard? Come down from there.",
    "We need oil, rope and a very long spoon.", "Why a spoon?", "You will see.",
    "The letter says midnight.", "Then we still have time for soup.",
    "Clack found this in the sand.",
    "Tik. Tik. Not mine.", "Somebody has cut the rope.",
    "My grandmother kept this light for forty years.",
    "And not one night was dark.", "Run!", "Wait for me!", "What is behind that door?",
    "Only the stairs. Two hundred and nine of them.", "I counted two hundred and ten.",
    "Then one of them is new.", "That is not funny, Tobin.", "I am not joking.",
    "Look at the water.",
    "It is going the wrong way.", "Mr. Pell said the tide turns at six.", "It is only four.",
    "Hush.", "Did you write this?", "No. Nobody has used this ink since the war of the bells.",
    "Put it back.", "Too late!", "It moved.", "Lamps do not move.", "This one does.",
    "Good morning, Quill Rock!", "You have been up all night.", "Somebody has to keep the light.",
    "I brought bread.", "Is that a map?", "Half a map.", "Where is the other half?", "Ask the cat.",
    "Three knocks. Then two.", "That was our sign.", "She is alive!", "Over there, by the wreck!",
    "Light it. Now.", "There. Do you see her?", "I see her.", "Home at last.",
)  # fmt: skip
SHOUTS = ("Imra!", "Look out!", "No!", "The light!", "Now!", "Hey!", "Stop!", "Up here!")
CAPTIONS = (
    "That night...", "Later.", "Quill Rock, the last house before the sea.", "An hour before dawn.",
    "Meanwhile, below.", "Nobody came that winter.", "Two hundred and ten steps.",
    "The tide waits.",
    "Morning.", "And so the lamp went out.", "Far out, something answered.",
)  # fmt: skip
EFFECTS = ("KRAK", "TOK TOK", "FWOOSH", "CLANG", "BOOM", "SPLASH", "TIK", "RRRUM", "WHAP", "SNAP")
