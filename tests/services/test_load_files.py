"""Files loaded from the command line: what is said, what is left, and with which code it ends."""

import csv
import dataclasses
import io
import threading
import time

import openpyxl
import pytest
from django.core.management import CommandError, call_command

from assets.models import Maker, Site
from services.api.loading import known_loads
from services.bulk_loads.by_hand import load_here
from services.bulk_loads.models import BulkLoad, ColumnMapping
from services.identity.callers import as_caller
from services.identity.models import Principal
from tests.world import make_principal


@pytest.fixture
def folder(transactional_db, tmp_path):
    make_principal("chief", ("admin", None), ("data-owner", None))
    (tmp_path / "makers.csv").write_text("code,name\nnorrvik,Norrvik Pumps\nlodd, Lodd Hydraulics \n")
    (tmp_path / "sites.csv").write_text("code,name,time_zone\nwest,West,Europe/Oslo\neast,East,Mars/Crater\n")
    return tmp_path


class Terminal(io.StringIO):
    def isatty(self):
        return True


def run(*arguments, err=None):
    out = io.StringIO()
    try:
        call_command("load_files", *arguments, "--as", "chief", stdout=out, stderr=err or io.StringIO())
    except (CommandError, SystemExit) as error:
        return out.getvalue(), error
    return out.getvalue(), None


def test_files_go_in_one_after_the_other_with_a_line_each(folder):
    said, error = run(f"makers={folder / 'makers.csv'}")
    assert error is None
    assert said.splitlines() == ["makers.csv: 2 created, 1 noted"]
    again, _ = run(f"makers={folder / 'makers.csv'}")
    assert again.splitlines() == ["makers.csv: 2 unchanged, 1 noted"]


def test_a_refused_row_is_printed_with_its_remedy_and_the_command_ends_with_one(folder):
    report = folder / "report.csv"
    said, error = run(f"makers={folder / 'makers.csv'}", f"sites={folder / 'sites.csv'}", "--report", str(report))
    assert error.returncode == 1
    assert str(error) == "1 row was refused."
    assert "row 3, time_zone 'Mars/Crater': " in said
    assert Site.objects.get().code == "west"
    with report.open(encoding="utf-8", newline="") as opened:
        lines = list(csv.DictReader(opened))
    assert [(one["file"], one["row"], one["outcome"], one["what"]) for one in lines] == [
        ("makers.csv", "2", "created", ""),
        ("makers.csv", "3", "created", "note"),
        ("sites.csv", "2", "created", ""),
        ("sites.csv", "3", "refused", "problem"),
    ]
    assert (lines[3]["column"], lines[3]["value"]) == ("time_zone", "Mars/Crater")
    assert lines[3]["remedy"]


@pytest.mark.parametrize("flag", ["--dry-run", "--whole-or-nothing"])
def test_a_dry_run_or_a_broken_whole_keeps_nothing_and_says_so(folder, flag):
    said, error = run(f"sites={folder / 'sites.csv'}", flag)
    assert "(nothing was kept)" in said
    assert error.returncode == 1
    assert Site.objects.count() == 0


def test_only_the_first_twenty_problems_are_printed(folder):
    path = folder / "many.csv"
    path.write_text("code,name,time_zone\n" + "".join(f"s{n},S,Mars\n" for n in range(25)))
    said, _ = run(f"sites={path}")
    assert said.count("row ") == 20
    assert "and 5 more refused rows" in said


def test_a_workbook_is_read_after_a_mapping_with_a_sheet(folder):
    made = openpyxl.Workbook()
    for row in (["Short", "Long"], ["lodd", "Lodd Hydraulics"]):
        made.active.append(row)
    made.active.title = "List"
    made.save(folder / "list.xlsx")
    ColumnMapping.objects.create(kind="makers", name="list", columns={"Short": "code", "Long": "name"})
    said, error = run(f"makers={folder / 'list.xlsx'}", "--mapping", "list", "--sheet", "List")
    assert (error, said) == (None, "list.xlsx: 1 created\n")
    assert BulkLoad.objects.get().mapping == "list"


def test_on_a_terminal_a_bar_shows_how_far_it_is(folder):
    terminal = Terminal()
    run(f"makers={folder / 'makers.csv'}", err=terminal)
    assert "makers.csv" in terminal.getvalue()
    assert "rows/s" in terminal.getvalue()


def test_a_file_that_cannot_be_read_stops_there_with_the_remedy(folder):
    (folder / "wrong.csv").write_text("code,nmae\na,b\n")
    said, error = run(f"makers={folder / 'wrong.csv'}", f"makers={folder / 'makers.csv'}")
    assert "Did you mean 'name'?" in str(error)
    assert "The columns of makers are: code, name." in str(error)
    assert (said, Maker.objects.count()) == ("", 0)


def test_who_may_not_load_is_told_so(folder):
    make_principal("reader")
    with pytest.raises(CommandError, match=r"failed.*data-owner"):
        call_command("load_files", f"makers={folder / 'makers.csv'}", "--as", "reader", stdout=io.StringIO())


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["makers"], "is not KIND=FILE"),
        (["makers=/nowhere.csv"], "there is no file"),
        (["makerz={folder}/makers.csv", "--as", "chief"], "Did you mean 'makers'?"),
        (["makers={folder}/makers.csv", "--as", "nobody"], "no active account 'nobody'"),
        (["makers={folder}/makers.csv"], "Name who loads with --as LOGIN"),
    ],
)
def test_what_was_meant_is_asked_back(folder, arguments, words):
    with pytest.raises(CommandError) as caught:
        call_command("load_files", *[one.format(folder=folder) for one in arguments])
    assert words in str(caught.value)


def test_interrupted_it_leaves_nothing_of_the_file(folder, monkeypatch):
    kind, begun = known_loads()["makers"], threading.Event()

    def load(*, by, rows):
        made = kind.run(by=by, rows=rows)
        begun.set()
        # Long enough for the one looking on to have cancelled it before it would end.
        time.sleep(1)
        return made

    def interrupt(done, total):
        assert begun.wait(20)
        raise KeyboardInterrupt

    monkeypatch.setitem(known_loads(), "makers", dataclasses.replace(kind, load=load))
    by = as_caller(Principal.objects.get(login="chief"))
    with pytest.raises(KeyboardInterrupt):
        load_here(by=by, kind="makers", path=folder / "makers.csv", watch=interrupt)
    assert Maker.objects.count() == 0
    assert BulkLoad.objects.get().run.state == "cancelled"


def test_the_command_says_what_an_interrupt_left(folder, monkeypatch):
    def load_here(**_):
        raise KeyboardInterrupt

    monkeypatch.setattr("services.bulk_loads.management.commands.load_files.load_here", load_here)
    assert str(run(f"makers={folder / 'makers.csv'}")[1]) == "makers.csv: stopped; nothing of this file stays."


def test_an_unforeseen_fault_is_raised_and_nothing_is_tried_behind_ones_back(folder, monkeypatch):
    def load(*, by, rows):
        raise ZeroDivisionError

    kind = known_loads()["makers"]
    monkeypatch.setitem(known_loads(), "makers", dataclasses.replace(kind, load=load))
    with pytest.raises(ZeroDivisionError):
        call_command("load_files", f"makers={folder / 'makers.csv'}", "--as", "chief", stdout=io.StringIO())
    assert BulkLoad.objects.get().run.state == "cancelled"
