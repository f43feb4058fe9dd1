#!/usr/bin/env python3
"""Fuzzes the API from its own description with schemathesis: no answer is a 5xx, and every answer is
one that is described, by status, type and schema.

    pip install schemathesis
    tests/outside/api.py path/to/handcall [requests for each address, 100 by default]

Serves the demo's data from a folder of its own, signs in by the printed link, and hands the session
to schemathesis, an administrator's. Ends with its exit code."""
import http.cookiejar
import json
import pathlib
import subprocess
import sys
import tempfile
import time
import urllib.request

# Left out: what has no end while it is listened to, what ends the session, and a form of the browser
# whose answers are pages.
LEFT_OUT = ["/api/productions/{id}/events", "/api/batches/{id}/events", "/sign-out",
            "/account/sign-out-everywhere", "/productions/{id}/import"]
CHECKS = ["not_a_server_error", "status_code_conformance", "content_type_conformance",
          "response_schema_conformance"]

command = sys.argv[1]
examples = sys.argv[2] if len(sys.argv) > 2 else "100"


class Script:
    """A session, as a script has it."""

    def __init__(self, origin, link):
        self.origin, self.jar = origin, http.cookiejar.CookieJar()
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(self.jar))
        self.token = ""
        self.post(link[len(origin):], {})
        self.token = self.get("/api/session")["form_token"]

    def get(self, path):
        return json.load(self.opener.open(self.origin + path))

    def post(self, path, inputs):
        headers = {"content-type": "application/json", "x-form-token": self.token}
        body = json.dumps(inputs).encode()
        request = urllib.request.Request(self.origin + path, body, headers, method="POST")
        return json.load(self.opener.open(request))

    def ended(self, path):
        while (state := self.get(path))["state"] == "running":
            time.sleep(0.2)
        return state


with tempfile.TemporaryDirectory() as data:
    subprocess.run([command, "demo", "--no-serve", "--data", data], check=True,
                   stdout=subprocess.DEVNULL)
    server = subprocess.Popen([command, "serve", "--data", data, "--port", "0"],
                              stdout=subprocess.PIPE, text=True)
    try:
        link = next(line for line in server.stdout if "/sign-in/" in line)
        link = link[link.index("http"):].strip()
        script = Script(link[:link.index("/sign-in/")], link)
        # Real ids beside invented ones, so that more than "not found" is reached.
        home = script.get("/api/productions")[0]["id"]
        rows = script.get(f"/api/productions/{home}/board")["rows"]
        order = {"paper": "a4", "performers": [rows[0]["id"], rows[1]["id"]]}
        batch = script.post(f"/api/productions/{home}/batches", order)["id"]
        script.ended(f"/api/batches/{batch}")
        order = {"width_mm": 1400, "gap_mm": 3, "spare_pairs": 0, "seconds": 1}
        lay = script.post(f"/batches/{batch}/lay", order)["id"]
        script.ended(f"/api/lays/{lay}")
        known = {
            "performers": rows[0]["id"], "batches": batch, "lays": lay, "productions": home,
            "fabrics": script.get(f"/api/productions/{home}/fabrics")[0]["id"],
            "accounts": script.get("/api/accounts")[0]["id"],
        }
        description = script.get("/api/openapi.json")
        for path in LEFT_OUT:
            del description["paths"][path]
        for path, methods in description["paths"].items():
            kind = path.removeprefix("/api").split("/")[1]
            for method in methods.values():
                for parameter in method.get("parameters", []):
                    if parameter["name"] == "id":
                        given = {"enum": [known[kind]]}
                        parameter["schema"] = {"anyOf": [given, parameter["schema"]]}
        kept = pathlib.Path(data) / "openapi.json"
        kept.write_text(json.dumps(description))
        cookie = "; ".join(f"{c.name}={c.value}" for c in script.jar)
        result = subprocess.run(
            ["schemathesis", "run", str(kept), "--url", script.origin, "--max-examples", examples,
             "--checks", ",".join(CHECKS), "--phases", "examples,coverage,fuzzing",
             "--seed", "1", "--request-timeout", "60", "--continue-on-failure", "--header", f"cookie: {cookie}",
             "--header", f"x-form-token: {script.token}"])
    finally:
        server.kill()
        server.wait()
sys.exit(result.returncode)
