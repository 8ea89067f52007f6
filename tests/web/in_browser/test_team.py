"""Signing in, inviting and joining in a real browser, which sends cookies and origins as it likes."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from tests.web.in_browser.conftest import PASSWORD, PATIENCE_MS, Service, service_with_a_team

PHONE = {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """A service with one team."""
    service = service_with_a_team(tmp_path_factory.mktemp("teams"))
    yield service
    service.stop()


def test_an_owner_signs_in_invites_and_somebody_joins(browser: Browser, service: Service) -> None:
    address = service.address.replace("127.0.0.1", "localhost")  # where a browser takes a secure cookie without TLS
    owner = browser.new_context(base_url=address, viewport=PHONE)
    owner.set_default_timeout(PATIENCE_MS)
    page = owner.new_page()
    page.goto("/cars")
    assert page.url.endswith("/sign-in?next=%2Fcars")
    page.fill("input[name=name]", "Robin")
    page.fill("input[name=password]", PASSWORD)
    page.click("button:text('Sign in')")
    page.wait_for_url("**/cars")
    page.goto("/team")
    page.click("button:text('Create an invitation')")
    link = page.locator("code").inner_text()
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    joining = browser.new_context(base_url=address).new_page()
    joining.goto(link)
    joining.fill("input[name=name]", "Kim")
    joining.fill("input[name=password]", PASSWORD)
    joining.click("button:text('Join')")
    joining.wait_for_url(f"{address}/")
    joining.goto("/team")
    joining.click("button:text('Sign out')")
    joining.wait_for_url("**/sign-in")
    joining.goto("/team")
    assert "/sign-in" in joining.url
