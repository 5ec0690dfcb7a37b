"""Who is let in, what is refused, and what no answer may lack."""

import pytest
from page_browser import HOST

from nightglass.page.safety import FORM_LIMIT_BYTES, HEADERS

FIXED = ("/", "/new", "/static/page.css", "/nothing")


@pytest.mark.parametrize("path", ["/", "/new", "/bench/abc", "/bench/abc/out/x.png"])
def test_nobody_gets_in_without_the_cookie(outside, path):
    answer = outside.get(path)
    assert answer.status_code == 403
    assert "Open the address that the terminal printed" in answer.text


def test_a_wrong_token_is_refused_and_sets_no_cookie(outside):
    answer = outside.get("/enter?token=guess")
    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers


def test_the_cookie_is_closed_to_scripts_and_other_sites(outside):
    answer = outside.get(f"/enter?token={outside.session.token}")
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert outside.session.token not in answer.headers["location"]


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example:8765", "127.0.0.1:80", "192.168.0.9:8765", ""]
)
def test_a_name_that_leads_here_from_elsewhere_is_refused(browser, host):
    answer = browser.get("/", host=host)
    assert answer.status_code == 421


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "", "http://127.0.0.1:8764"])
def test_a_form_of_another_site_changes_nothing(browser, base, bench, origin):
    before = (bench / "bench.toml").read_bytes()
    answer = browser.form(f"{base}/frames/leave-out", origin, path="f0.dng", reason="x")
    assert answer.status_code == 403
    assert (bench / "bench.toml").read_bytes() == before


def test_a_form_without_the_key_changes_nothing(browser, base):
    answer = browser.client.post(f"{base}/frames/measure", data={}, headers={"origin": HOST})
    assert answer.status_code == 403
    assert "Load the page again" in answer.text
    answer = browser.file(base, "a.dng", b"x", **{"x-form-key": "old"})
    assert answer.status_code == 403


@pytest.mark.parametrize("path", FIXED)
def test_every_answer_carries_the_policy(browser, path):
    answer = browser.get(path)
    for name, value in HEADERS.items():
        assert answer.headers[name] == value
    assert "unsafe" not in answer.headers["content-security-policy"]


@pytest.mark.parametrize("step", ["", "/frames", "/lenses", "/ranking", "/card"])
def test_no_page_has_script_or_style_of_its_own(browser, measured, step):
    page = browser.get(f"{measured}{step}")
    assert page.status_code == 200
    for word in (" style=", "<style", " onclick=", "javascript:", "hx-on", "http://", "https://"):
        assert word not in page.text.replace(HOST, ""), word
    assert "<script>" not in page.text


def test_a_body_over_the_limit_is_refused(browser, base):
    answer = browser.form(f"{base}/frames/measure", filler="x" * FORM_LIMIT_BYTES)
    assert answer.status_code == 413


def test_other_methods_are_refused(browser, base):
    assert browser.client.delete(base).status_code == 405
    assert browser.client.put(base, content=b"x").status_code == 405


@pytest.mark.parametrize(
    "path",
    [
        "..%2f..%2fbench.toml", "../bench.toml", "%2fetc%2fpasswd", "c%3a%5cx.png", "x%00.png",
        "cards", "..%2fframes%2ff0.dng", "link.png",
    ],
)  # fmt: skip
def test_only_files_that_were_made_can_be_fetched(browser, measured, bench, tmp_path, path):
    (bench / "out").mkdir()
    secret = tmp_path / "secret.png"
    secret.write_bytes(b"secret")
    (bench / "out" / "link.png").symlink_to(secret)
    answer = browser.get(f"{measured}/out/{path}")
    assert answer.status_code == 404
    assert b"secret" not in answer.content


def test_a_page_that_was_made_for_the_phone_is_shut_in(browser, measured, bench):
    (bench / "out").mkdir()
    (bench / "out" / "a.html").write_text("<script>1</script>")
    policy = browser.get(f"{measured}/out/a.html").headers["content-security-policy"]
    assert policy.startswith("sandbox;")
    assert "script" not in policy


def test_a_bench_that_nobody_named_is_not_found(browser):
    answer = browser.get("/bench/0123456789ab/frames")
    assert answer.status_code == 404
    assert "choose one at the start" in answer.text


@pytest.mark.parametrize("back", ["//evil.example", "https://evil.example", "/\\evil", ""])
def test_no_form_leads_away(browser, back):
    assert browser.form("/look", look="night", back=back).headers["location"] == "/"
