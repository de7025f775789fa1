"""The page that shows the operations to people."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import Any

import pytest


class Tags(HTMLParser):
    """Tags with their attributes, and the text between them."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words += f"{data} "


@pytest.fixture(scope="module")
def page(lasting: Any) -> Tags:
    answer = lasting.client.get("/docs")
    assert (answer.status_code, answer.mimetype) == (200, "text/html")
    return Tags(answer.text)


@pytest.fixture(scope="module")
def document(lasting: Any) -> dict[str, Any]:
    return dict(lasting.client.get("/openapi.json").json)


def test_every_operation_is_listed(page: Tags, document: dict[str, Any]) -> None:
    words = re.sub(r"\s+", " ", page.words)
    for path, item in document["paths"].items():
        for method, told in item.items():
            if method != "parameters":
                assert f"{method.upper()} {path} " in words
                assert told["summary"] in words


def test_the_page_needs_no_script_and_no_other_host(page: Tags) -> None:
    assert "script" not in {tag for tag, _ in page.tags}
    for _, attributes in page.tags:
        assert not any(name.startswith("on") for name in attributes)
        for name in ("src", "href", "action", "srcset", "data"):
            assert (attributes.get(name) or "#").startswith(("/openapi", "/docs.css", "#"))
        assert "style" not in attributes
    assert "style" not in {tag for tag, _ in page.tags}, "the policy on content refuses it"


def test_the_style_loads_nothing(lasting: Any) -> None:
    answer = lasting.client.get("/docs.css")
    assert (answer.status_code, answer.mimetype) == (200, "text/css")
    text = answer.text
    assert "color-scheme" in text
    assert "@import" not in text
    assert "url(" not in text
    assert "http://" not in text
    assert "https://" not in text


def test_links_inside_the_page_lead_somewhere_and_ids_are_unique(page: Tags) -> None:
    ids = [attributes["id"] for _, attributes in page.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    for _, attributes in page.tags:
        target = attributes.get("href") or ""
        assert not target.startswith("#") or target[1:] in ids


def test_the_page_names_its_language_and_has_one_main_part_and_heading(page: Tags) -> None:
    assert ("html", {"lang": "en"}) in page.tags
    tags = [tag for tag, _ in page.tags]
    assert tags.count("main") == tags.count("h1") == tags.count("title") == 1


def test_every_field_of_a_body_is_shown_with_its_limits(lasting: Any) -> None:
    text = lasting.client.get("/docs").text
    assert "integer, 8 to 400, required" in text
    assert "Stitches around the opening, both edges." in text
