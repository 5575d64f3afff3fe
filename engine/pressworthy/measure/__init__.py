"""Measurements of a picture, each made once and shared by all rules.

A third party writes its own the same way: a function of a picture under `@measurement`.
"""

from pressworthy.values.picture import measurement

__all__ = ["measurement"]
