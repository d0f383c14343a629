"""Keeps what is the same in every app of a test run: compiled templates, rules of addresses, content.

A running site makes each of them once; a test run makes an app for more than a thousand tests.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from types import CodeType
from typing import Any

from flask import Flask
from jinja2 import BytecodeCache
from jinja2.bccache import Bucket
from werkzeug.routing import Rule

from kiosk import app
from kiosk.site.content.loading import Content, load_content
from kiosk.site.settings import Site


class KeptTemplates(BytecodeCache):
    """Keeps the code of each template, by its file and text."""

    def __init__(self) -> None:
        self._codes: dict[tuple[str, str, bool], CodeType] = {}

    def _key(self, bucket: Bucket) -> tuple[str, str, bool]:
        return bucket.key, bucket.checksum, bucket.environment.trim_blocks

    def load_bytecode(self, bucket: Bucket) -> None:
        """Put the code of a template into its bucket, where it is kept."""
        bucket.code = self._codes.get(self._key(bucket))

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep the code of a template."""
        assert bucket.code is not None
        self._codes[self._key(bucket)] = bucket.code


class KeptRule(Rule):
    """An address of which the function that builds it is compiled once for all apps."""

    _builders: dict[Any, Callable[..., tuple[str, str]]] = {}

    def _compile_builder(self, append_unknown: bool = True) -> Callable[..., tuple[str, str]]:
        if self.defaults:
            return super()._compile_builder(append_unknown)
        key = self.rule, tuple(self._trace), append_unknown
        if key not in self._builders:
            self._builders[key] = super()._compile_builder(append_unknown)
        return self._builders[key]


_CONTENTS: dict[Any, Content] = {}


def kept_content(site: Site, figure_names: Collection[str] | None = None) -> Content:
    """Return the content of a site, read once for all sites of the same languages, route and own files."""
    named = figure_names and (isinstance(figure_names, Mapping), frozenset(figure_names))
    own = sorted((path, path.stat().st_mtime_ns) for path in (site.folder / "content").rglob("*"))
    key = tuple(language.code for language in site.languages), site.route, named, tuple(own)
    if key not in _CONTENTS:
        _CONTENTS[key] = load_content(site, figure_names)
    return _CONTENTS[key]


def keep_between_apps() -> None:
    """Let every app that is made from now on take what is kept here."""
    Flask.url_rule_class = KeptRule
    Flask.jinja_options = {**Flask.jinja_options, "bytecode_cache": KeptTemplates()}
    app.load_content = kept_content
