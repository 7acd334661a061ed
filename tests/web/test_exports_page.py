"""Exports from the browser: read back with other programs, by those who may have them."""

from __future__ import annotations

import io
import zipfile

import frictionless
import openpyxl
import pytest

from benchwalk.web.export_pages import OFFERED
from tests.web.conftest import ROLES


@pytest.mark.parametrize("role", ROLES)
def test_each_role_is_offered_what_it_may_have_and_refused_the_rest(signed_in, role):
    browser = signed_in(role)
    page = browser.get("/exports?lang=en")
    if role in ("scout", "applicator"):
        assert page.status_code == 403
        assert browser.get("/exports/full.zip").status_code == 403
        return
    offered = {one.name for one in OFFERED if f'href="/exports/{one.name}"' in page.text}
    assert offered == {one.name for one in OFFERED if role in one.roles}
    assert ("full.zip" in offered) == (role == "manager")


def test_the_full_export_is_refused_to_all_but_the_manager(signed_in):
    assert signed_in("grower").get("/exports/full.zip").status_code == 403
    assert signed_in("advisor").get("/exports/full.zip").status_code == 403


def test_the_workbook_opens_in_another_reader(signed_in):
    answer = signed_in("advisor").get("/exports/records.xlsx")
    assert "attachment" in answer.headers["content-disposition"]
    assert openpyxl.load_workbook(io.BytesIO(answer.content), read_only=True).sheetnames


def test_the_package_is_a_valid_data_package(signed_in, tmp_path):
    """Frictionless Data Package, validated by the library frictionless."""
    answer = signed_in("grower").get("/exports/package.zip")
    zipfile.ZipFile(io.BytesIO(answer.content)).extractall(tmp_path)
    (described,) = tmp_path.glob("*/datapackage.json")
    assert frictionless.validate(str(described)).valid


def test_an_export_that_there_is_none_of_is_no_page(signed_in):
    assert signed_in("manager").get("/exports/everything.zip").status_code == 404
    assert signed_in("manager").get("/exports/..%2fpackage.zip").status_code == 404
