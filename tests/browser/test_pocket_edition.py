"""The pocket edition opened by itself: it plays, its knobs turn, its verdict is a line; without scripts, players."""

from __future__ import annotations

import pytest

from browsers import wait
from listening_pages import Watched, write_audition
from sublatch.audition.plan.load import load_audition
from sublatch.audition.pocket import write_pocket
from sublatch.audition.run import run_audition
from sublatch.audition.verdicts.added_up import read_verdicts

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True}


@pytest.fixture(scope="module")
def pocket(chromium, tmp_path_factory):
    """Give a folder with nothing but a pocket edition, under the name of a page."""
    folder = write_audition(tmp_path_factory.mktemp("whole"), seconds=1.5, takes=1, tones=(2, 5))
    plan = load_audition(folder.parent / "plan.toml")
    alone = tmp_path_factory.mktemp("alone")
    write_pocket(plan, run_audition(plan), alone / "index.html", folder=folder)
    return alone


def test_it_plays_turns_and_hands_over_a_verdict_as_one_line(chromium, pocket, tmp_path):
    opened = Watched(chromium, **PHONE)
    opened.open(pocket)
    opened.ready()
    page = opened.page
    assert "Start low." in page.inner_text(".caution")
    page.click(".shown [data-do=play]")
    wait(page, "Number(document.querySelector('.shown [data-show=time]').textContent) > 0.1")
    page.click(".shown [data-do=next]")
    page.locator(".shown [data-live-do=volume]").fill("8")
    wait(page, "document.querySelector('.shown .choice.own.heard')")
    page.click(".shown .verdict [data-verdict=keep]")
    page.click("[data-tool=copy]")
    page.fill("dialog input", "Ann")
    line = page.input_value("dialog textarea")
    assert "\n" not in line
    path = tmp_path / "line.json"
    path.write_text(line, encoding="utf-8")
    found = read_verdicts([path])
    assert found.listeners == ("Ann",)
    assert found.first[0].settings["knobs.volume"] == 8
    assert [url for url in opened.asked if url.startswith("file:")] == [(pocket / "index.html").as_uri()]
    opened.close()


def test_without_scripts_it_is_plain_players(chromium, pocket):
    context = chromium.new_context(**PHONE, java_script_enabled=False)
    page = context.new_page()
    page.goto((pocket / "index.html").as_uri())
    players = page.locator("audio")
    assert players.count() == page.locator("li:has(audio) bdi").count() == 6
    assert all(one.is_visible() for one in players.all())
    context.close()
