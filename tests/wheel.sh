#!/usr/bin/env bash
# Builds the wheel, installs it in an environment of its own and starts the demo
# from another folder: content, catalogs and demo site must have come along.
set -euo pipefail
checkout=$(cd "$(dirname "$0")/.." && pwd)
scratch=$(mktemp -d)
demo=""
finish() { [ -z "$demo" ] || kill "$demo" 2>/dev/null || true; rm -rf "$scratch"; }
trap finish EXIT
python3 -m venv "$scratch/venv"
"$scratch/venv/bin/pip" wheel -q --disable-pip-version-check --no-deps -w "$scratch" "$checkout"
"$scratch/venv/bin/pip" install -q --disable-pip-version-check "$scratch"/kiosk-*.whl
cd "$scratch"
"$scratch/venv/bin/kiosk" demo --host 127.0.0.1 --port 18099 >demo.log 2>&1 &
demo=$!
for _ in $(seq 40); do
    if page=$("$scratch/venv/bin/python" - 18099 <<'PY' 2>/dev/null
import sys, urllib.request
print(urllib.request.urlopen(f"http://127.0.0.1:{sys.argv[1]}/es/", timeout=5).read().decode())
PY
    ); then
        grep -q 'lang="es"' <<<"$page" && { echo "the wheel's demo answers"; exit 0; }
    fi
    sleep 0.5
done
cat demo.log
echo "the wheel's demo did not answer" >&2
exit 1
