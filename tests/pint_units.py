"""Units as a general-purpose library knows them (pint), to hold ours against: read once, when first asked."""

from decimal import Decimal
from typing import Any

import pint

EXACT: Any = pint.LazyRegistry(None, {"non_int_type": Decimal, "cache_folder": None})
FLOATING: Any = pint.LazyRegistry(None, {"cache_folder": None})
