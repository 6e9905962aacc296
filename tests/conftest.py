"""Tests compute everything afresh; those of the cache on disk point it at folders of their own."""

import os

os.environ["BIOMECH_CACHE"] = "off"
