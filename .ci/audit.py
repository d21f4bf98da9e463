"""Says what pip-audit found, and how much of it could not be asked."""

import json
import sys
from pathlib import Path


def main(told: str, wanted: str) -> int:
    """Print one line a weakness and one on what was asked; the exit status."""
    try:
        packages = json.loads(Path(told).read_text("utf-8"))["dependencies"]
    except (ValueError, KeyError):
        print("audit: NOT AUDITED: pip-audit could not ask (no network, or no advisories there)")
        return 1 if wanted == "required" else 0
    unasked = [package["name"] for package in packages if "skip_reason" in package]
    weak = [(p, v) for p in packages for v in p.get("vulns", ())]
    for package, weakness in weak:
        fixed = ", ".join(weakness["fix_versions"]) or "none yet"
        print(f"audit: {package['name']} {package['version']}: {weakness['id']}, fixed in {fixed}")
    print(f"audit: {len(packages) - len(unasked)} packages asked about, {len(weak)} weaknesses")
    if unasked:
        few = ", ".join(unasked[:5])
        print(f"audit: NOT AUDITED: {len(unasked)} packages ({few}, …): the registry says nothing")
    return 1 if weak or (unasked and wanted == "required") else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2]))
