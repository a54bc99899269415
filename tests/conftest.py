"""No test leaves recordings in the user's own folders."""

from __future__ import annotations

import os

os.environ["CHANTWRIGHT_CACHE"] = "off"
