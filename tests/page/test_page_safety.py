"""Who is let in, what is refused, and what no answer may lack."""

import pytest
from page_browser import HOST

from nightglass.page.app import STEPS
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


def test_the_token_lets_in_without_staying_in_the_address(outside, base):
    answer = outside.get(f"/enter?token={outside.session.token}&bench=..%2f..%2fetc")
    assert answer.headers["location"] == "/"
    assert answer.headers["referrer-policy"] == "same-origin"
    cookie = answer.headers["set-cookie"].lower()
    assert "domain=" not in cookie
    assert "path=/" in cookie


@pytest.mark.parametrize(
    "cookie", ["", "x", "nightglass_8765=", "nightglass_8765=guess", "a=\x7f;;"]
)
def test_a_wrong_cookie_lets_nobody_in(outside, base, cookie):
    assert outside.get(base, cookie=cookie).status_code == 403
    answer = outside.client.post(
        f"{base}/frames/file", params={"name": "a.dng"}, content=b"x",
        headers={"origin": HOST, "cookie": cookie, "x-form-key": outside.session.form_key},
    )  # fmt: skip
    assert answer.status_code == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site", "none"])
def test_a_form_that_the_browser_says_is_of_elsewhere_changes_nothing(browser, base, site):
    answer = browser.client.post(
        f"{base}/frames/measure", data={"form_key": browser.session.form_key},
        headers={"origin": HOST, "sec-fetch-site": site},
    )  # fmt: skip
    assert answer.status_code == 403


CHANGES = (
    "/new", "/open", "/forget", "/look", "/frames/measure", "/frames/stop", "/frames/leave-out",
    "/frames/take-in", "/undo", "/plan", "/plan/tick", "/ranking/keep", "/card", "/card/phone",
    "/site", "/sky/map", "/sky/map/stop", "/frames/file", "/sky/file", "/new/file",
)  # fmt: skip
ROOTS = ("/new", "/open", "/forget", "/look", "/new/file")


def test_the_list_of_what_changes_something_is_whole():
    """A new form must come into the list above, and so under its tests."""
    routes = [route for step in STEPS for route in step.router.routes]
    paths = {route.path for route in routes if "POST" in route.methods} | {"/look"}
    ours = (path.replace("/bench/{key}", "") for path in paths)
    known = {path.replace("{step}", "sky").replace("{ask}", "map") for path in ours}
    assert known == set(CHANGES)


@pytest.mark.parametrize("path", CHANGES)
def test_nothing_is_changed_without_the_key_or_by_just_looking(browser, base, bench, path):
    whole = path if path in ROOTS else f"{base}{path}"
    before = sorted((file, file.stat().st_mtime_ns) for file in bench.rglob("*"))
    query = {"name": "a.dng"}
    for key in ("", "guess", browser.session.token, browser.session.cookie):
        answer = browser.client.post(whole, params=query, content=f"form_key={key}", headers={
            "origin": HOST, "content-type": "application/x-www-form-urlencoded", "x-form-key": key,
        })  # fmt: skip
        assert answer.status_code == 403, key
    assert sorted((file, file.stat().st_mtime_ns) for file in bench.rglob("*")) == before


@pytest.mark.parametrize("name", ["x.svg", "x.html", "x.HTM", "x.xhtml", "x.xml", "x.js", "x.mjs",
                                  "x.wasm", "x.php", "x.dng.exe", "x.dng/../y.dng"])  # fmt: skip
@pytest.mark.parametrize("step", ["frames", "sky", "sensor"])
def test_what_a_browser_could_run_is_not_taken(browser, base, bench, name, step):
    to = {"sensor": "camera"}.get(step, step)
    answer = browser.client.post(
        f"{base}/{to}/file", params={"name": name}, content=b"<script>alert(1)</script>",
        headers={"origin": HOST, "x-form-key": browser.session.form_key},
    )  # fmt: skip
    assert answer.status_code == 422
    assert answer.json()["fault"]
    assert not list(bench.rglob("*.*[!l]")) or not list((bench / step).rglob("*x*"))


def test_dropped_files_are_never_given_back(browser, base, bench):
    content = b"<script>alert(1)</script>"
    assert browser.file(base, "page.dng", content).status_code == 200
    for path in ("out/page.dng", "out/../frames/page.dng", "out/..%2fframes%2fpage.dng",
                 "frames/page.dng", "crop/page.dng", "crop/..%2fbench.toml"):  # fmt: skip
        answer = browser.get(f"{base}/{path}")
        assert answer.status_code in (404, 405), path
        assert content not in answer.content


@pytest.mark.parametrize("name", ["x.html", "x.HTML", "x.svg", "x.json"])
def test_made_files_can_run_nothing_whatever_is_in_them(browser, base, bench, name):
    (bench / "out").mkdir()
    (bench / "out" / name).write_text("<script>alert(1)</script>")
    answer = browser.get(f"{base}/out/{name}")
    assert answer.headers["x-content-type-options"] == "nosniff"
    policy = answer.headers["content-security-policy"]
    assert "unsafe-inline" not in policy.replace("style-src 'unsafe-inline'", "")
    assert policy.startswith("sandbox;" if name.lower().endswith("html") else "default-src 'none'")


@pytest.mark.parametrize("key", ["..", "%2e%2e", "..%2f..", "a" * 5000, "\u7a7a", "%00", "x;y"])
def test_keys_lead_nowhere_but_to_benches_on_the_list(browser, key):
    assert browser.get(f"/bench/{key}/frames").status_code in (404, 405)


def test_a_file_over_the_limit_is_refused_before_it_is_read(browser, base):
    answer = browser.file(base, "a.dng", b"x", **{"content-length": str(3 << 30)})
    assert answer.status_code == 413
    assert "a file may have 2 GB" in answer.text
    answer = browser.file(base, "a.dng", b"x", **{"content-length": "-1"})
    assert answer.status_code == 413


def test_errors_of_the_program_tell_nothing_of_its_inside(browser, base, monkeypatch):
    def broken(*_):
        raise KeyError("secret inside")

    monkeypatch.setattr("nightglass.page.steps.report._files", broken)
    answer = browser.get(f"{base}/report")
    assert answer.status_code == 500
    assert "An error of the program itself (KeyError). What is on record stays." in answer.text
    assert "secret inside" not in answer.text
    for name, value in HEADERS.items():
        assert answer.headers[name] == value
