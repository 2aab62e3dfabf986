"""The documentation says what the code does, or the build fails."""

import re
from pathlib import Path

import pytest

from saltglaze.model.finding import KINDS, Feature
from saltglaze.store.jobfolder import TABLES
from saltglaze.store.record import schema_text
from saltglaze.store.tables import spelled

ROOT = Path(__file__).parents[2]
DOCS = sorted([ROOT / "README.md", ROOT / "CHANGELOG.md", *(ROOT / "docs").rglob("*.md")])


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.file)
def test_every_column_is_described(table):
    text = (ROOT / "docs/formats.md").read_text(encoding="utf-8")
    missing = [
        name for name in table.columns if not re.search(rf"\b{spelled(name, table, 'us')}\b", text)
    ]
    assert table.file in text
    assert missing == []


def test_every_feature_and_kind_is_described():
    text = (ROOT / "docs/formats.md").read_text(encoding="utf-8")
    kinds = {kind for group in KINDS.values() for kind in group}
    assert [word for word in {*map(str, Feature), *kinds} if word not in text] == []


def test_the_published_schema_is_the_one_of_the_records():
    published = (ROOT / "docs/record.schema.json").read_text(encoding="utf-8")
    assert published == schema_text(), "run: saltglaze schema > docs/record.schema.json"


@pytest.mark.parametrize("page", DOCS, ids=lambda page: str(page.relative_to(ROOT)))
def test_every_link_leads_somewhere(page):
    links = re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", page.read_text(encoding="utf-8"))
    broken = [x for x in links if "://" not in x and not (page.parent / x).exists()]
    assert broken == []


def test_every_page_is_reached_from_the_readme():
    seen, queue = set(), [ROOT / "README.md"]
    while queue:
        page = queue.pop()
        if page in seen or page.suffix != ".md" or not page.exists():
            continue
        seen.add(page)
        text = page.read_text(encoding="utf-8")
        queue += [(page.parent / x).resolve() for x in re.findall(r"\]\(([^)#]+)", text)]
    assert [str(page.relative_to(ROOT)) for page in DOCS if page.resolve() not in seen] == []


def test_every_command_is_described_as_its_help_says():
    from typer.main import get_command

    from saltglaze.cli import app

    text = " ".join((ROOT / "docs/commands.md").read_text(encoding="utf-8").split())
    for name, command in get_command(app).commands.items():
        assert f"## {name}" in text
        assert " ".join((command.help or "").split()) in text
        for parameter in command.params:
            for option in parameter.opts:
                assert option in text or parameter.param_type_name == "argument"
