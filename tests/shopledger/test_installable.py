"""The site can be put on a phone's home screen: what a browser asks for that (W3C, Web Application Manifest)."""

import json
import re
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from PIL import Image

pytestmark = pytest.mark.django_db


def manifest():
    return json.loads(Path(finders.find("shopledger/manifest.json")).read_text())


def test_each_page_names_the_manifest(technician_client, client):
    for page in (technician_client.get("/jobs/"), client.get("/sign-in/")):
        assert re.search(r'<link rel="manifest" href="/static/[^"]*shopledger/manifest\.json">', page.content.decode())


def test_it_opens_as_an_app_of_its_own_at_the_first_page():
    said = manifest()
    assert (said["start_url"], said["scope"], said["display"]) == ("/", "/", "standalone")
    assert said["name"] and said["short_name"]


def test_its_icons_are_there_in_the_sizes_that_it_names():
    named = {one["src"]: one["sizes"] for one in manifest()["icons"]}
    assert {"192x192", "512x512"} <= set(named.values())
    for name, sizes in named.items():
        path = finders.find(f"shopledger/{name}")
        assert path, name
        if name.endswith(".png"):
            assert "{}x{}".format(*Image.open(path).size) == sizes


def test_its_shortcuts_lead_somewhere(technician_client):
    assert [technician_client.get(one["url"]).status_code for one in manifest()["shortcuts"]] == [200]
