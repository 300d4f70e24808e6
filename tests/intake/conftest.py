"""The melt shop of the import stories."""

from __future__ import annotations

from tests.melt_shop import melt_shop, melt_shop_file

__all__ = ["melt_shop", "melt_shop_file"]
