"""Shared data types, all frozen, without pixels' or files' libraries.

Inside the package the origin is the top-left corner, x runs right, y runs down, x comes
before y, and lengths are page pixels as floats; pixel (0, 0) covers 0..1, so an edge falls
on whole numbers. Arrays stay row, column.
"""
