"""The melt shop of the import stories, and the demo works."""

from __future__ import annotations

from tests.cli.demo_works import demo, demo_copy
from tests.melt_shop import melt_shop, melt_shop_file

__all__ = ["demo", "demo_copy", "melt_shop", "melt_shop_file"]
