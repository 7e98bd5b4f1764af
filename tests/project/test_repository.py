"""The repository keeps to what it promises: its top level, its README's two commands, its words."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

ROOT = Path(__file__).parents[2]
TOP = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "riskcut",
    "studies",
    "tests",
    "notebooks",
    "data_demo",
}


def tracked() -> list[str]:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True, timeout=60
    )
    return listed.stdout.splitlines()


def shell_blocks() -> list[str]:
    return re.findall(r"```sh\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.S)


def test_top_level_is_exactly_what_it_is_to_be():
    top = {name.split("/")[0] for name in tracked()}
    assert {name for name in top if not name.startswith(".")} == TOP


def test_readme_opens_with_the_job_in_one_paragraph():
    lines = (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
    assert lines[0] == "# riskcut"
    paragraph = "\n".join(lines[2:]).split("\n\n")[0]
    assert "study file" in paragraph
    assert "fail" in paragraph


def test_readme_has_two_commands_of_one_line_each():
    blocks = shell_blocks()
    assert len(blocks) == 2
    for block in blocks:
        assert len(block.strip().splitlines()) == 1
    assert "riskcut run studies/" in blocks[0]
    assert "pytest" in blocks[1]


def test_every_link_of_the_documents_leads_somewhere():
    for document in ("README.md", "DEVELOPERS.md", "data_demo/README.md"):
        text = (ROOT / document).read_text(encoding="utf-8")
        for link in re.findall(r"\]\((?!https?:)([^)#]+)", text):
            assert ((ROOT / document).parent / link).exists(), (document, link)


def test_every_folder_and_file_that_developers_md_names_exists():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for name in re.findall(r"`((?:riskcut|studies|tests|notebooks|data_demo|\.ci)/[\w./]*)`", text):
        assert (ROOT / name).exists(), name


def test_the_lock_has_a_hash_for_each_package_and_no_address():
    lock = (ROOT / ".ci" / "requirements.txt").read_text(encoding="utf-8")
    pinned = re.findall(r"^([\w.-]+)==", lock, re.M)
    entries = re.split(r"^(?=[\w.-]+==)", lock, flags=re.M)[1:]
    assert len(pinned) > 30
    assert all("--hash=sha256:" in entry for entry in entries)
    assert not re.search(r"https?://|index-url|find-links", lock)


def test_the_lock_holds_everything_that_the_project_needs():
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = project["dependencies"] + project["optional-dependencies"]["test"]
    lock = (ROOT / ".ci" / "requirements.txt").read_text(encoding="utf-8").lower()
    for requirement in wanted:
        name = re.match(r"[\w.-]+", requirement)[0].lower().replace("_", "-").replace(".", "-")
        assert re.search(rf"^{name.replace('-', '[-.]')}==", lock, re.M), requirement
