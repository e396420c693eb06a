"""Whoever comes to a club that nobody has begun reads how it begins."""

from playwright.sync_api import Page, expect


def test_stranger_reads_why_nobody_can_sign_in(page: Page) -> None:
    page.goto("/")
    expect(page.get_by_text("this club has not begun")).to_be_visible()
    page.goto("/begin/abcd-efgh-jkmn-pqrs")
    expect(page.get_by_role("heading", name="Nothing begins here")).to_be_visible()
    page.get_by_role("link", name="Sign in").first.click()
    expect(page).to_have_title("Sign in · Feelerbook")
