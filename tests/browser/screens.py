"""What tests in a browser share: when they can run, at which widths, and what holds of every page."""

import os
import shutil
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

CHROMIUM = next((found for name in ("chromium", "chromium-browser") if (found := shutil.which(name))), None)
SHOTS = os.environ.get("SCREENSHOTS")

WIDTHS = {"desk": (1280, 900), "phone": (390, 844)}

in_a_browser = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(
        CHROMIUM is None and not os.environ.get("REQUIRE_BROWSER"), reason="no Chromium found: browser tests not run"
    ),
]


def sign_in(page: Page, login: str) -> None:
    """Fill in the form that asks for it."""
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    page.get_by_label("Login").fill(login)
    page.get_by_label("Password").fill("correct horse")
    page.get_by_role("button", name="Sign in").click()


def fits_its_width(page: Page, width: int) -> None:
    """Nothing sticks out sideways, and what is tapped is large enough for a finger (WCAG 2.2, 2.5.8: 24 px)."""
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    for button in page.get_by_role("button").all():
        box = button.bounding_box()
        if box is not None:
            assert box["height"] >= 24, button.inner_text()
            assert box["width"] >= 24, button.inner_text()


def keep(page: Page, name: str) -> None:
    if SHOTS:
        Path(SHOTS).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=str(Path(SHOTS) / f"{name}.png"), full_page=True)


def looks_right(page: Page, name: str) -> None:
    """Nothing sticks out, at the width of a desk and of a phone."""
    for width, (across, down) in WIDTHS.items():
        page.set_viewport_size({"width": across, "height": down})
        fits_its_width(page, across)
        keep(page, f"{name}-{width}")
