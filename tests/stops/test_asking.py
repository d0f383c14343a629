from __future__ import annotations

from markupsafe import Markup

from kiosk.site.questions import joined, split_questions
from kiosk.stops.asking import apart, asked

SOURCE = """## why-cut: Why cut & keep?

First answer.

## how-long: How long?

Second answer,

- with a list.
"""


def page_html() -> Markup:
    return Markup(joined(split_questions(SOURCE, "questions.en.md", []), ()).render(lambda slot: ""))


def test_each_question_keeps_its_id_its_text_and_its_whole_answer() -> None:
    first, second = asked(page_html())
    assert (first.id, str(first.question), str(first.answer)) == (
        "why-cut",
        "Why cut &amp; keep?",
        "<p>First answer.</p>",
    )
    assert second.answer.startswith("<p>Second answer,</p>")
    assert "with a list" in second.answer


def test_a_page_without_questions_has_none() -> None:
    assert asked(Markup("")) == []


def test_twins_on_one_screen_have_ids_of_their_own() -> None:
    assert apart(Markup('<h2 id="plan">Plan</h2>'), "es") == '<h2 id="plan-es">Plan</h2>'
