"""Pages that link what was made."""

from chantwright.web.page import write_page

__all__ = ["write_page"]
