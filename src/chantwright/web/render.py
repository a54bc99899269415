"""Laying out pages."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from jinja2 import Environment
from starlette.requests import Request
from starlette.responses import HTMLResponse

from chantwright.web.desk import Desk

__all__ = ["LIGHTS", "Render"]

LIGHTS = ("auto", "light", "dark", "dim")
"""Looks of the pages; auto follows the computer's own setting."""


@dataclass(frozen=True, slots=True)
class Render:
    """Makes pages of templates."""

    environment: Environment
    desk: Desk
    hosted: bool = False

    def page(
        self, request: Request, template: str, status: int = 200, /, **values: Any
    ) -> HTMLResponse:
        """Lay out a page.

        Parameters
        ----------
        request : Request
            For the look that the reader chose.
        template : str
            Name under ``templates/desk``.
        status : int
            Of the answer.
        """
        light = request.cookies.get("light", "auto")
        html = self.environment.get_template(f"desk/{template}").render(
            light=light if light in LIGHTS else "auto",
            lights=LIGHTS,
            here=request.url.path,
            hosted=self.hosted,
            account=getattr(request.state, "account", None),
            **values,
        )
        return HTMLResponse(html, status)

    def trouble(self, request: Request, what: str, remedy: str, status: int) -> HTMLResponse:
        """Say what went wrong and what to do."""
        plain = what[:1].upper() + what[1:]
        return self.page(
            request, "trouble.html", status, title="Not done", what=plain, remedy=remedy
        )
