"""Pages as layouts: pure geometry on outlines, without files and pixels.

``pages.lay_out`` takes panels to an order and measures; ``notation`` writes and draws
grids; ``distance`` and ``signature`` compare them; ``describe`` gives what the library
keeps. Everything is measured in the page's own upright frame, x before y, y down, and
right-to-left pages are mirrored once so that their order mirrors exactly.
"""
