"""The description of the API: valid, complete, and its page works without a network."""

import re
from pathlib import Path

from fastapi.routing import APIRoute
from openapi_spec_validator import validate

from app.settings import HOME
from app.web.api import api
from app.web.api_ahead import api_ahead
from app.web.api_debrief import api_debrief
from app.web.api_people import api_people
from app.web.api_procedures import api_procedures
from app.web.time_api import time_api
from tests.web.site import Site

METHODS = {"get", "post", "put", "delete", "patch"}
STREAMS = {"/api/live", "/api/runs/{run}/live"}


def test_the_description_is_valid(site: Site) -> None:
    validate(site.json("/api/openapi.json"))


def test_every_route_of_the_api_is_described(site: Site) -> None:
    described = {
        (method.upper(), path)
        for path, ways in site.json("/api/openapi.json")["paths"].items()
        for method in ways
        if method in METHODS
    }
    routes = {
        (method, each.path)
        for router in (api, api_ahead, api_debrief, api_people, api_procedures, time_api)
        for each in router.routes
        if isinstance(each, APIRoute)
        for method in each.methods or ()
    }
    assert described == routes
    asked_for = {
        ("POST", "/api/procedures"), ("GET", "/api/procedures"), ("POST", "/api/runs"), ("GET", "/api/runs/{run}"),
        ("POST", "/api/runs/{run}/marks"), ("GET", "/api/runs/{run}/events"), ("GET", "/api/runs/{run}/live"),
    }  # fmt: skip
    assert asked_for <= described


def test_every_answer_has_its_shape_and_every_route_its_sentence(site: Site) -> None:
    for path, ways in site.json("/api/openapi.json")["paths"].items():
        for method, said in ways.items():
            assert said.get("description"), (method, path)
            good = [answer for status, answer in said["responses"].items() if status.startswith("2")]
            assert good
            for answer in good:
                if said["responses"].keys() >= {"204"}:
                    assert "content" not in answer
                elif path in STREAMS:
                    assert "text/event-stream" in answer["content"]
                else:
                    assert answer["content"]["application/json"]["schema"], (method, path)


def test_every_error_is_described_as_it_is_sent(site: Site) -> None:
    """RFC 9457, 3: problem details have a media type of their own."""
    for path, ways in site.json("/api/openapi.json")["paths"].items():
        for method, said in ways.items():
            errors = {status: answer for status, answer in said["responses"].items() if status[0] in "45"}
            assert {"400", "401", "403"} <= set(errors), (method, path)
            if "{" in path:
                assert {"404", "422"} <= set(errors), (method, path)
            for status, answer in errors.items():
                assert set(answer["content"]) == {"application/problem+json"}, (method, path, status)
                assert answer["content"]["application/problem+json"]["schema"] == {
                    "$ref": "#/components/schemas/Problem"
                }


def test_what_is_answered_fits_what_is_described(site: Site) -> None:
    """The models that answer are the models described: the routes validate what they return against them."""
    run = site.start()
    schemas = site.json("/api/openapi.json")["components"]["schemas"]
    answers = {
        f"/api/runs/{run}": "SituationOut",
        "/api/runs": "RunOut",
        "/api/procedures": "ProcedureOut",
        f"/api/runs/{run}/events": "LoggedOut",
        "/api/procedures/mast/plan": "PlanOut",
    }
    for address, schema in answers.items():
        said = site.json(address)
        one = said[0] if isinstance(said, list) else said
        assert set(one) == set(schemas[schema]["properties"])
    outcome = site.post(f"/api/runs/{run}/marks", json={"step": "rig/1"}).json()
    assert set(outcome) == set(schemas["OutcomeOut"]["properties"])
    problem = site.post(f"/api/runs/{run}/marks", json={"step": "wire/1"}).json()
    assert set(problem) <= set(schemas["Problem"]["properties"])


def test_the_page_of_the_api_loads_only_what_is_here(site: Site) -> None:
    page = site.page("/api/docs")
    addresses = re.findall(r'(?:src|href)="([^"]*)"', page)
    assert addresses
    for address in addresses:
        assert address.startswith(("/", "#"))
        if address.startswith("/static/"):
            assert site.get(address).status_code == 200
    assert 'url: "/api/openapi.json"' in Path(HOME / "static" / "api_docs.js").read_text()
