"""What hearing/build.py left in its folder: the Python environment and the fetched voices."""

import os
import sys
import tomllib
from pathlib import Path

HERE = Path(__file__).parent
HELP = "folder that hearing/build.py made"


def own_python(built):
    """Runs the script again in the environment there."""
    python = built / ".venv/bin/python"
    if os.environ.get("HEARING_PYTHON") or Path(sys.prefix).resolve() == (built / ".venv").resolve():
        return
    if not python.exists():
        raise SystemExit(f"no {python}: run hearing/build.py {built} first, or name its folder with --built")
    os.execv(python, [python, *sys.argv])


def synthesisers(built, names):
    """Those of these names that can speak here, by name. In the environment only."""
    import synths

    packages = built / ".packages"
    return synths.available({p.name: p for p in packages.iterdir() if p.is_dir()}, names)


def voices(synthesiser, split):
    """The voices of a split."""
    return tomllib.loads((HERE / "voices.toml").read_text()).get(synthesiser, {}).get(split, [])
