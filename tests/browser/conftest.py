"""One Chromium a file of tests."""

import pytest
from django.db import connections
from playwright.sync_api import sync_playwright

from tests.browser.screens import CHROMIUM


@pytest.fixture(scope="module")
def chromium():
    # The browser's own loop runs in this thread, which Django takes for asynchronous code of ours: while it runs other
    # connections are kept. Those from before would outlive their database, and the next test would find them ended.
    connections.close_all()
    # Taken back afterwards: processes that later tests start inherit the environment.
    with pytest.MonkeyPatch.context() as environment, sync_playwright() as playwright:
        environment.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield browser
        browser.close()
        connections.close_all()
