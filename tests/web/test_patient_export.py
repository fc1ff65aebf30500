"""The export of all about one patient: whole, safe, checkable."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Callable

import pytest
from PIL import Image, PngImagePlugin

from app.core.coverage import audit
from app.exchange.series_file import read_series
from app.exchange.shared_data import builtin_templates
from app.imaging.decode import ImageLimits
from app.storage.patient_rows import tables_about_patients
from app.work.export_words import LEFT_OUT, TABLES
from app.work.load_images import load_image
from app.work.patient_export import everything_about
from tests.making import a_series, image_file, loaded
from tests.people import Practice, a_patient
from tests.web.client import PageClient
from tests.work.test_merges import contact, merged, twin_of


def archive(client: PageClient, patient_id: str) -> zipfile.ZipFile:
    answer = client.get(f"/patients/{patient_id}/everything.zip")
    assert answer.status == 200, answer.text
    return zipfile.ZipFile(io.BytesIO(answer.response.content))


def rows(whole: zipfile.ZipFile, table: str) -> list[dict[str, object]]:
    read: list[dict[str, object]] = json.loads(whole.read(f"data/{table}.json"))
    return read


def test_every_table_with_a_path_to_a_patient_is_in_it(dentist: PageClient, practice: Practice) -> None:
    """A table added later must be told in words, and is then walked by itself."""
    whole = archive(dentist, a_patient(practice).id)

    there = {name[5:-5] for name in whole.namelist() if name.startswith("data/")} - {"people"}
    assert there == set(tables_about_patients()) - set(LEFT_OUT)
    assert there == set(TABLES)


def test_every_file_is_what_the_list_of_sums_says(dentist: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    loaded(practice, series, slot="UR-molar")
    whole = archive(dentist, series.patient_id)
    listed = dict(reversed(line.split("  ")) for line in whole.read("SHA256SUMS").decode().splitlines())  # type: ignore[arg-type]

    assert listed == {
        name: hashlib.sha256(whole.read(name)).hexdigest() for name in whole.namelist() if name != "SHA256SUMS"
    }


def test_the_original_is_there_byte_for_byte_and_the_picture_without_its_texts(
    dentist: PageClient, practice: Practice
) -> None:
    series = a_series(practice)
    out, info = io.BytesIO(), PngImagePlugin.PngInfo()
    info.add_text("Patient", "Nobody Else")
    Image.open(io.BytesIO(image_file(5))).save(out, "PNG", pnginfo=info)
    load_image(
        practice.store, practice.assistant, series.id, data=out.getvalue(), name="../a.png", slot="UR-molar"
    )
    whole = archive(dentist, series.patient_id)
    (original,) = (name for name in whole.namelist() if name.startswith("original/"))
    (picture,) = (name for name in whole.namelist() if name.startswith("images/"))

    assert whole.read(original) == out.getvalue()
    assert b"Nobody Else" not in whole.read(picture)
    assert original.endswith("/01_UR-molar.png")
    assert Image.open(io.BytesIO(whole.read(picture))).size == (80, 60)


def test_a_series_in_it_is_read_back_to_the_same_audit(dentist: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    loaded(practice, series, slot="UR-molar")
    whole = archive(dentist, series.patient_id)
    name = next(each for each in whole.namelist() if each.startswith("series/") and "audit" not in each)

    again = audit(read_series(json.loads(whole.read(name)), builtin_templates()))
    kept = json.loads(whole.read(name.replace(".json", ".audit.json")))
    assert kept["counts"]["gaps"] == len(again.gaps)
    assert kept["verdict"] == again.verdict


def test_the_printed_record_stands_alone(dentist: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    loaded(practice, series, slot="UR-molar")
    whole = archive(dentist, series.patient_id)
    (name,) = (each for each in whole.namelist() if each.endswith(".html"))
    page = whole.read(name).decode()

    (picture,) = (each for each in whole.namelist() if each.startswith("images/"))
    assert f"../{picture}" in page
    assert 'href="/' not in page
    assert 'src="/' not in page
    assert "records/print.css" in whole.namelist()


def test_rows_of_a_merged_record_are_in_it_and_nobody_else_s(dentist: PageClient, practice: Practice) -> None:
    kept, other, third = a_patient(practice), twin_of(practice), twin_of(practice, "Bo Tarn", "H9")
    for each in (other, third):
        contact(practice, each.id)
    merged(practice, kept.id, other.id, phone="merged")

    whole = archive(dentist, kept.id)

    assert {row["id"] for row in rows(whole, "patient")} == {kept.id, other.id}
    assert len(rows(whole, "contact_note")) == 1
    assert len(rows(whole, "patient_merge")) == 1
    assert b"Bo Tarn" not in b"".join(whole.read(name) for name in whole.namelist())


def test_what_is_written_while_it_is_made_is_not_in_it(practice: Practice) -> None:
    patient = a_patient(practice)
    entries = everything_about(
        practice.store, practice.dentist, patient.id, printed=lambda *_: b"", limits=ImageLimits()
    )
    first = next(entries)
    contact(practice, patient.id)
    rest = {name: b"".join(content) for name, content in entries}

    assert first[0] == "README.txt"
    assert json.loads(rest["data/contact_note.json"]) == []


def test_a_missing_image_is_told_and_the_rest_comes(dentist: PageClient, practice: Practice) -> None:
    series = a_series(practice)
    loaded(practice, series, slot="UR-molar")
    (name,) = practice.store.images.names()
    practice.store.images.path(name).unlink()

    whole = archive(dentist, series.patient_id)

    assert "is missing from the data folder" in whole.read("problems.txt").decode()
    assert "README.txt" in whole.namelist()


@pytest.mark.parametrize("login", ["tomke", "pell", "ruan"])
def test_only_a_dentist_makes_it(client_of: Callable[[str], PageClient], practice: Practice, login: str) -> None:
    address = f"/patients/{a_patient(practice).id}/everything"
    client = client_of(login)

    assert {client.get(address).status, client.get(f"{address}.zip").status} == {403}


def test_the_page_says_what_comes(dentist: PageClient, practice: Practice) -> None:
    page = dentist.get(f"/patients/{a_patient(practice).id}/everything")

    assert "every row about this patient" in page.text
    assert page.all('a[href$="/everything.zip"]')
