#!/usr/bin/env python3
"""Fuzzes the API from its own description with schemathesis: no answer may be a 5xx.

    pip install schemathesis
    tests/fuzz_api.py path/to/handcall [requests for each address, 100 by default]

Serves the demo's data from a folder of its own, signs in by the printed link, and hands the session
to schemathesis. Ends with its exit code."""
import http.cookiejar
import json
import pathlib
import re
import subprocess
import sys
import tempfile
import urllib.request

command = sys.argv[1]
examples = sys.argv[2] if len(sys.argv) > 2 else "100"
with tempfile.TemporaryDirectory() as data:
    subprocess.run([command, "demo", "--no-serve", "--data", data], check=True,
                   stdout=subprocess.DEVNULL)
    server = subprocess.Popen([command, "serve", "--data", data, "--port", "0"],
                              stdout=subprocess.PIPE, text=True)
    try:
        link = next(line for line in server.stdout if "/sign-in/" in line)
        link = link[link.index("http"):].strip()
        origin = link[:link.index("/sign-in/")]
        jar = http.cookiejar.CookieJar()
        opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(jar))
        opener.open(urllib.request.Request(link, data=b"", method="POST")).read()
        session = json.load(opener.open(origin + "/api/session"))
        cookie = "; ".join(f"{c.name}={c.value}" for c in jar)
        # Server-sent events have no end while the board is open; they are left out.
        description = json.load(opener.open(origin + "/api/openapi.json"))
        for path in [path for path in description["paths"] if path.endswith("/events")]:
            del description["paths"][path]
        # Real ids beside invented ones, so that more than "not found" is reached.
        home = re.search(r"/productions/([0-9a-f-]{36})", opener.open(origin + "/").read().decode())
        home = home.group(1)
        board = json.load(opener.open(f"{origin}/api/productions/{home}/board"))
        someone = board["rows"][0]["id"]
        for path, methods in description["paths"].items():
            known = someone if "performers" in path else home
            for method in methods.values():
                for parameter in method.get("parameters", []):
                    if parameter["name"] == "id":
                        parameter["schema"] = {"anyOf": [{"enum": [known]}, parameter["schema"]]}
        kept = pathlib.Path(data) / "openapi.json"
        kept.write_text(json.dumps(description))
        result = subprocess.run(
            ["schemathesis", "run", str(kept), "--url", origin, "--max-examples", examples,
             "--checks", "not_a_server_error", "--phases", "examples,coverage,fuzzing",
             "--seed", "1", "--header", f"cookie: {cookie}",
             "--header", f"x-form-token: {session['form_token']}"])
    finally:
        server.kill()
        server.wait()
sys.exit(result.returncode)
