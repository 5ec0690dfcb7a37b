"""Cards for a phone: off until asked for, by a code, nothing else, and ended when it is ended."""

from starlette.testclient import TestClient

from nightglass.page.phone import card_app

PNG = b"\x89PNG card"
HOST = "http://10.0.0.2:4000"


def test_only_who_has_the_code_gets_the_pictures():
    client = TestClient(card_app("secret", "10.0.0.2:4000", [PNG]), base_url=HOST)
    page = client.get("/secret/")
    assert '<img src="0.png"' in page.text
    assert "script" not in page.headers["content-security-policy"]
    assert client.get("/secret/0.png").content == PNG
    for path in ("/", "/guess/", "/guess/0.png", "/secret/1.png", "/secret/..%2f0.png", "/secre/"):
        assert client.get(path).status_code == 404
    assert client.post("/secret/").status_code == 404
    assert client.get("/secret/", headers={"host": "evil.example"}).status_code == 404


def test_the_phone_is_off_until_asked_for_and_can_be_ended(browser, measured, bench, monkeypatch):
    monkeypatch.setattr("nightglass.page.phone.own_address", lambda: "127.0.0.1")
    folder = bench / "out" / "cards"
    folder.mkdir(parents=True)
    (folder / "Wren.png").write_bytes(PNG)
    assert "data:image/svg+xml" not in browser.get(f"{measured}/card").text
    browser.form(f"{measured}/card/phone")
    assert browser.session.phone is None
    browser.form(f"{measured}/card/phone", yes="yes")
    given = browser.session.phone
    assert given is not None
    assert "data:image/svg+xml" in browser.get(f"{measured}/card").text
    browser.form(f"{measured}/card/phone")
    assert browser.session.phone is None
    assert given.server.should_exit


def test_the_end_of_the_page_ends_the_phone_and_each_code_is_new(
    browser, measured, bench, monkeypatch
):
    monkeypatch.setattr("nightglass.page.phone.own_address", lambda: "127.0.0.1")
    (bench / "out" / "cards").mkdir(parents=True)
    (bench / "out" / "cards" / "Wren.png").write_bytes(PNG)
    codes = []
    for _ in range(2):
        browser.form(f"{measured}/card/phone", yes="yes")
        codes.append(browser.session.phone.address.split("/")[-2])
    assert codes[0] != codes[1]
    assert min(map(len, codes)) >= 20
    assert browser.session.token not in browser.session.phone.address
    last = browser.session.phone.server
    browser.session.end()
    assert last.should_exit
