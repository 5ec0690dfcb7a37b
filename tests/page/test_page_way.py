"""What the bar of steps says: what is done, what waits, what comes next."""

import os
import re


def stop(browser, base, key):
    """The classes of a step in the bar."""
    page = browser.get(f"{base}/frames").text
    found = re.search(rf'<li class="([a-z ]+)"><a href="{base}/{key}"', page)
    assert found is not None
    return found[1].split()[0]


def test_a_folder_of_frames_waits_until_it_was_worked_out(browser, measured, bench):
    assert stop(browser, measured, "light") == "open"
    (bench / "flats").mkdir()
    (bench / "flats" / "one.dng").write_bytes(b"x")
    assert stop(browser, measured, "light") == "begun"
    (bench / "out").mkdir(exist_ok=True)
    drawn = bench / "out" / "flats.svg"
    drawn.write_text("<svg/>")
    ahead_ns = drawn.stat().st_mtime_ns + 10**9
    os.utime(drawn, ns=(ahead_ns, ahead_ns))
    assert stop(browser, measured, "light") == "done"
    os.utime(drawn, ns=(0, 0))
    assert stop(browser, measured, "light") == "begun"


def test_an_answer_kept_makes_a_step_done(browser, measured, bench):
    assert stop(browser, measured, "checks") == "open"
    assert browser.form(f"{measured}/checks/faults").status_code == 303
    browser.wait(bench, "faults")
    assert stop(browser, measured, "checks") == "done"


def test_what_comes_next_passes_over_what_may_be_left_out(browser, measured):
    page = browser.get(f"{measured}/ranking").text
    assert f'Next: <a class="button" href="{measured}/night">Night</a>' in page
    assert "Frames: 6 measured." in browser.get(f"{measured}/frames").text
    start = browser.get(measured).text
    assert f'class="button first" href="{measured}/night"' in start
