"""The evidence bundle: whole, the same each time, checked by what is not ours, and silent about what is withheld."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from dataclasses import replace
from pathlib import Path
from urllib.parse import unquote

import pytest
from helpers import rule, rules_folder
from packing import (
    COPY,
    DAY,
    FOR_ALL,
    FOR_REVIEWERS,
    ORIGINAL,
    REGISTER,
    SECRET,
    SLIDE,
    UNSAID,
    asked_of,
    casebook_at,
    digest,
    packed,
    profile,
    read_both,
    register,
    rules_at,
)

from conserve.casebook.model import Audience
from conserve.cli import main
from conserve.files import FileRefused
from conserve.pack import NotPacked, Packed
from conserve.pack.shown import register_as_shown, shown_files, trace_in, withheld_from
from conserve.weighing import weigh_all
from conserve.yamlfile import read_yaml

NAME = "engine-county-2026-05-04"
HOME = "data/casebook/engine"


@pytest.fixture(scope="module")
def bundle(tmp_path_factory: pytest.TempPathFactory) -> Packed:
    """The bundle of the small casebook, for reviewers."""
    root = tmp_path_factory.mktemp("packed")
    (root / "out").mkdir()
    return packed(asked_of(casebook_at(root / "engine"), rules_at(root / "rules"), root / "out"))


@pytest.fixture(scope="module")
def leaflet(tmp_path_factory: pytest.TempPathFactory) -> Packed:
    """The same for anyone."""
    root = tmp_path_factory.mktemp("open")
    (root / "out").mkdir()
    return packed(asked_of(casebook_at(root / "engine"), rules_at(root / "rules"), root / "out", "leaflet"))


def every_byte(found: Packed) -> dict[str, bytes]:
    """Every file of a bundle, and its zip file unpacked, by name; each name is among what is searched."""
    files = {p.relative_to(found.folder).as_posix(): p.read_bytes() for p in found.folder.rglob("*") if p.is_file()}
    with zipfile.ZipFile(found.zip) as archive:
        files |= {f"zip:{entry.filename}": archive.read(entry) for entry in archive.infolist()}
    return {name: name.encode() + b"\n" + data for name, data in files.items()}


def elsewhere(script: str, *given: str | Path, cwd: Path | str = "/") -> subprocess.CompletedProcess[str]:
    """Run Python where this package cannot be imported, which the script makes sure of first."""
    fence = (
        "import sys\n"
        "from importlib.abc import MetaPathFinder\n"
        "sys.meta_path[:] = [f for f in sys.meta_path if 'editable' not in getattr(f, '__module__', str(f)).lower()]\n"
        f"sys.path[:] = [p for p in sys.path if p.rstrip('/') != {str(Path(__file__).parent.parent)!r}]\n"
        "try:\n    import conserve\n    raise SystemExit('conserve is here')\nexcept ImportError:\n    pass\n"
    )
    return subprocess.run(
        [sys.executable, "-I", "-c", fence + script, *map(str, given)], cwd=cwd, capture_output=True, text=True
    )


# ---- what is in it --------------------------------------------------------------------------------------


def test_a_bundle_is_a_folder_and_a_zip_file_of_the_same_files(bundle: Packed):
    assert bundle.folder.name == NAME and bundle.zip.name == f"{NAME}.zip"
    stands = {p.relative_to(bundle.folder).as_posix(): p.read_bytes() for p in bundle.folder.rglob("*") if p.is_file()}
    with zipfile.ZipFile(bundle.zip) as archive:
        assert {e.filename.removeprefix(f"{NAME}/"): archive.read(e) for e in archive.infolist()} == stands
    assert sorted(path.name for path in bundle.folder.parent.iterdir()) == [NAME, f"{NAME}.zip"]


def test_a_bundle_holds_everything_that_a_reader_needs(bundle: Packed):
    for name in (
        "bagit.txt", "bag-info.txt", "manifest-sha256.txt", "manifest-sha512.txt", "tagmanifest-sha256.txt",
        "data/GUIDE.txt", "data/readiness.md", "data/checker.py", "data/ledger.md", "data/ledger.svg",
        "data/ro-crate-metadata.json", "data/provenance.jsonld", "data/rulebook/r/told.yaml", "data/rulebook/terms.yaml",
        f"{HOME}/object.yaml", f"{HOME}/components/slide.yaml", f"{HOME}/proposals/slack.yaml",
        f"{HOME}/evidence/register.yaml", f"{HOME}/evidence/weld.svg", f"{HOME}/evidence/shown/davit.jpg",
        f"{HOME}/records/slack.md", f"{HOME}/records/slack.json", f"{HOME}/profiles/county.yaml",
        f"{HOME}/statement/statement.md", f"{HOME}/statement/statement.html", f"{HOME}/statement/statement.json",
    ):  # fmt: skip
        assert (bundle.folder / name).is_file(), name


def test_what_is_no_part_of_the_casebook_stays_behind(bundle: Packed):
    stands = {p.relative_to(bundle.folder / HOME).as_posix() for p in (bundle.folder / HOME).rglob("*")}
    assert "jottings/private.yaml" not in stands
    assert "profiles/leaflet.yaml" not in stands


def test_every_gap_is_named_in_the_readiness(bundle: Packed):
    told = (bundle.folder / "data/readiness.md").read_text(encoding="utf-8")
    assert "Why the object matters" in told
    assert "Who looks after it" in told
    assert "absent" in told.lower()


def test_the_guide_says_what_it_cannot_show_before_how_to_use_it(bundle: Packed):
    told = (bundle.folder / "data/GUIDE.txt").read_text(encoding="utf-8")
    assert told.index("certifies nothing") < told.index("sha256sum") < told.index("What it cannot show")
    assert told.isprintable() or set(re.findall(r"[^\x20-\x7e]", told)) <= {"\n", "–", "ü"}
    assert max(map(len, told.splitlines())) <= 78


# ---- checked by what is not ours ------------------------------------------------------------------------


def test_the_commands_of_the_guide_work_as_they_stand_there(bundle: Packed):
    told = (bundle.folder / "data/GUIDE.txt").read_text(encoding="utf-8")
    commands = [line.strip() for line in told.splitlines() if line.startswith("    ")]
    assert len(commands) == 4
    for command in commands[:2]:
        done = subprocess.run(command, shell=True, cwd=bundle.folder, capture_output=True, text=True)
        assert done.returncode == 0, done.stdout + done.stderr
    done = subprocess.run(commands[2], shell=True, cwd=bundle.folder / "data", capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "slack: holds." in done.stdout


def test_the_common_tool_finds_every_file(bundle: Packed):
    done = subprocess.run(
        ["sha256sum", "-c", "manifest-sha256.txt"], cwd=bundle.folder, capture_output=True, text=True
    )  # fmt: skip
    assert done.returncode == 0
    assert len(done.stdout.splitlines()) == bundle.files == done.stdout.count(": OK\n")


def test_the_bag_is_valid_to_another_library(bundle: Packed):
    done = elsewhere(
        "import bagit\nbag = bagit.Bag(sys.argv[1])\nbag.validate()\nprint(bag.info['External-Identifier'])",
        bundle.folder,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("urn:uuid:")


def test_another_library_opens_the_crate_and_finds_every_file_in_it(bundle: Packed):
    """RO-Crate 1.2: the crate's root is the bag's payload; each file there is described once, with its size."""
    script = """
import json, os
from rocrate.rocrate import ROCrate
crate = ROCrate(sys.argv[1])
print(json.dumps({
    "version": crate.version,
    "name": crate.name,
    "files": {e.id: [e["contentSize"], e["sha256"]] for e in crate.data_entities},
    "people": sorted(e["name"] for e in crate.contextual_entities if e.type == "Person"),
    "licence": crate.root_dataset["license"]["name"],
}))
"""
    done = elsewhere(script, bundle.folder / "data")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    data = bundle.folder / "data"
    stands = {p.relative_to(data).as_posix(): p for p in data.rglob("*") if p.is_file()}
    del stands["ro-crate-metadata.json"]
    assert {unquote(name) for name in told["files"]} == set(stands)
    assert {unquote(n): (int(size), sha) for n, (size, sha) in told["files"].items()} == {
        n: (p.stat().st_size, digest(p.read_bytes())) for n, p in stands.items()
    }
    assert (told["version"], told["people"]) == ("1.2", ["M. Tranter", "S. Varley"])
    assert told["licence"]


def test_the_crate_is_sound_json_ld(bundle: Packed):
    """Read with the context that the library carries in place of the one on the web: nothing is fetched."""
    script = """
import json, socket, rdflib
from importlib.resources import files
def refuse(*_):
    raise SystemExit("something is fetched")
socket.getaddrinfo = socket.create_connection = refuse
crate = json.loads(open(sys.argv[1], encoding="utf-8").read())
crate["@context"] = json.loads(files("rocrate").joinpath("data/ro-crate.jsonld").read_text())["@context"]
graph = rdflib.Graph().parse(data=json.dumps(crate), format="json-ld", publicID="urn:here:/")
schema = rdflib.Namespace("http://schema.org/")
print(len(set(graph.subjects(schema.sha256))), len(list(graph.subject_objects(schema.hasPart))))
"""
    done = elsewhere(script, bundle.folder / "data/ro-crate-metadata.json")
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == [str(bundle.files - 1)] * 2


def test_provenance_is_prov_o_and_fetches_nothing(bundle: Packed):
    """W3C PROV-O, by two libraries: the triples that must be there, and a document that the PROV model accepts."""
    script = """
import socket, rdflib, warnings
def refuse(*_):
    raise SystemExit("something is fetched")
socket.getaddrinfo = socket.create_connection = refuse
graph = rdflib.Graph().parse(sys.argv[1], format="json-ld")
P = rdflib.PROV
def ends(node):
    return str(node).split("/", 3)[-1]
print(sorted((ends(a), ends(b)) for a, b in graph.subject_objects(P.wasGeneratedBy)))
print(sorted((ends(a), ends(b)) for a, b in graph.subject_objects(P.wasInformedBy)))
print(sorted((ends(a), str(b)) for a, b in graph.subject_objects(P.startedAtTime)))
print(sorted(ends(a) for a in graph.subjects(rdflib.RDF.type, P.Person)))
print(sorted((ends(graph.value(a, P.agent)), ends(b)) for a, b in graph.subject_objects(P.hadPlan)))
print(sorted((ends(graph.value(a, P.agent)), ends(b)) for a, b in graph.subject_objects(P.hadRole)))
print(sorted(ends(b) for a, b in graph.subject_objects(P.used) if ends(a) == "#weighing/slack"))
points = (P.used, P.wasGeneratedBy, P.wasAttributedTo, P.wasAssociatedWith, P.agent, P.hadPlan, P.hadMember)  # a role is a bare name
print(sorted({ends(b) for p in points for b in graph.objects(None, p) if (b, rdflib.RDF.type, None) not in graph}))
warnings.simplefilter("error", UserWarning)  # what is not converted
from prov.model import ProvDocument
document = ProvDocument.deserialize(content=graph.serialize(format="turtle"), format="rdf", rdf_format="turtle")
kinds = [record.get_type().localpart for record in document.get_records()]
print(kinds.count("Entity"), kinds.count("Activity"), kinds.count("Agent"), kinds.count("Generation"))
"""
    done = elsewhere(script, bundle.folder / "data/provenance.jsonld")
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    home = "casebook/engine"
    assert lines[0] == str([(f"{home}/records/slack.{e}", "#weighing/slack") for e in ("json", "md")])
    assert lines[1] == str([("#work/slack", "#decision/slack")])
    assert lines[2] == str([("#decision/slack", "2026-03-20T00:00:00"), ("#work/slack", "2026-03-21T00:00:00")])
    assert lines[3] == str(["#person/fitter", "#person/lead"])
    assert lines[4] == str([("#program", "rulebook/")])
    assert lines[5] == str([("#person/fitter", "#role/volunteer"), ("#person/lead", "#role/lead")])
    assert f"{home}/evidence/weld.svg" in lines[6] and f"{home}/proposals/slack.yaml" in lines[6]
    assert lines[7] == "[]", "everything that is pointed at is told of"
    entities, activities, agents, generations = map(int, lines[8].split())
    assert entities > 10 and (activities, generations) == (3, 2) and agents == 2 + 2 + 1


def test_one_byte_changed_in_any_file_of_a_bundle_is_found(bundle: Packed, tmp_path: Path):
    """In each file once, at a place that its name decides; the lists of the payload and those of the lists find it."""
    copy = Path(shutil.copytree(bundle.folder, tmp_path / "copy"))
    files = sorted(path for path in copy.rglob("*") if path.is_file())
    assert len(files) == bundle.files + 6
    for path in files:
        whole = path.read_bytes()
        at = int(digest(path.name.encode()), 16) % len(whole)
        path.write_bytes(whole[:at] + bytes((whole[at] ^ 1,)) + whole[at + 1 :])
        lists = ("manifest-sha256.txt", "tagmanifest-sha256.txt", "tagmanifest-sha512.txt")
        codes = (
            subprocess.run([f"sha{name[-7:-4]}sum", "--strict", "-c", name], cwd=copy, capture_output=True).returncode
            for name in lists
        )
        assert any(codes), (path.name, at)
        path.write_bytes(whole)


def test_every_conclusion_is_drawn_again_where_this_package_is_not(bundle: Packed):
    done = subprocess.run(
        ["python3", "-I", "checker.py", "casebook/engine/records/slack.json"],
        cwd=bundle.folder / "data", capture_output=True, text=True, env={"PATH": os.environ["PATH"]},
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_records_can_be_made_again_from_the_bundle_and_the_lists_still_agree(bundle: Packed, tmp_path: Path):
    copy = Path(shutil.copytree(bundle.folder, tmp_path / "copy"))
    before = (copy / HOME / "records/slack.json").read_bytes()
    (copy / HOME / "records/slack.json").unlink()
    told = ["record", str(copy / HOME), "--rules", str(copy / "data/rulebook"), "--on", DAY.isoformat()]
    assert main(told) == 0
    assert (copy / HOME / "records/slack.json").read_bytes() == before
    lines = (copy / "manifest-sha256.txt").read_text(encoding="utf-8").splitlines()
    for line in lines:
        sum_of, name = line.split("  ", 1)
        assert digest((copy / name).read_bytes()) == sum_of


def test_a_bundle_has_one_identifier_that_its_content_decides(bundle: Packed, leaflet: Packed):
    for found in (bundle, leaflet):
        told = re.search("urn:uuid:(.{36})", (found.folder / "bag-info.txt").read_text(encoding="utf-8"))
        assert told is not None
        crate = json.loads((found.folder / "data/ro-crate-metadata.json").read_text(encoding="utf-8"))
        prov = json.loads((found.folder / "data/provenance.jsonld").read_text(encoding="utf-8"))
        assert crate["@graph"][1]["identifier"] == f"urn:uuid:{told[1]}"
        assert prov["@context"]["here"] == f"arcp://uuid,{told[1]}/"
    assert len({(found.folder / "bag-info.txt").read_bytes() for found in (bundle, leaflet)}) == 2


# ---- what is withheld -----------------------------------------------------------------------------------


def test_who_may_see_what(bundle: Packed, leaflet: Packed):
    assert [one.id for one in bundle.withheld] == ["daybook", "safe"]
    assert [one.id for one in leaflet.withheld] == ["daybook", "safe", "weld-report"]


@pytest.mark.parametrize(
    "trace",
    [
        SECRET, b"the safe", b"spare keys", digest(SECRET).encode(), UNSAID, b"daybook-1911", b"wet summer",
        digest(UNSAID).encode(), ORIGINAL, b"dsc_0042", digest(ORIGINAL).encode(), b"never to be sent", b"own remark",
        b"private.yaml",
    ],
)  # fmt: skip
def test_no_byte_of_a_bundle_tells_of_what_is_withheld(bundle: Packed, leaflet: Packed, trace: bytes):
    for found in (bundle, leaflet):
        assert [name for name, data in every_byte(found).items() if trace.lower() in data.lower()] == []
        assert trace not in found.zip.read_bytes()


@pytest.mark.parametrize("trace", [FOR_REVIEWERS, b"weld.svg", digest(FOR_REVIEWERS).encode(), b"weld at the foot"])
def test_what_is_for_reviewers_goes_to_them_alone(bundle: Packed, leaflet: Packed, trace: bytes):
    assert any(trace.lower() in data.lower() for data in every_byte(bundle).values())
    assert not any(trace.lower() in data.lower() for data in every_byte(leaflet).values())


def test_what_may_be_shown_is_there_byte_for_byte(bundle: Packed):
    evidence = bundle.folder / HOME / "evidence"
    assert (evidence / "face 100_ – Würfel's.svg").read_bytes() == FOR_ALL
    assert (evidence / "shown/davit.jpg").read_bytes() == COPY
    assert sorted(p.name for p in evidence.rglob("*") if p.is_file()) == [
        "davit.jpg", "face 100_ – Würfel's.svg", "register.yaml", "weld.svg",
    ]  # fmt: skip


def test_the_guide_names_what_is_withheld_and_why(bundle: Packed):
    told = (bundle.folder / "data/GUIDE.txt").read_text(encoding="utf-8")
    assert "  daybook - nobody has said who may see it" in told
    assert "  safe - it is to be shown to nobody" in told
    assert "  davit" in told.partition("Shown as a copy")[2]
    assert "  face-before" in told.partition("Under another name")[2]


def test_withholding_changes_no_verdict(tmp_path: Path, leaflet: Packed):
    folder, rules = casebook_at(tmp_path / "engine"), rules_at(tmp_path / "rules")
    here = weigh_all(*read_both(folder, rules), DAY)
    there = json.loads((leaflet.folder / HOME / "records/slack.json").read_text(encoding="utf-8"))
    assert there["verdicts"] == {name: verdict.value for name, verdict in here[0].verdicts.items()}


def test_a_register_that_is_written_again_reads_as_it_did(tmp_path: Path):
    folder, rules = casebook_at(tmp_path / "engine"), rules_at(tmp_path / "rules")
    casebook, _ = read_both(folder, rules)
    node, _ = read_yaml(folder, "evidence/register.yaml", "C")
    assert node is not None
    (tmp_path / "engine/evidence/register.yaml").write_text(register_as_shown(node, (), ()), encoding="utf-8")
    again, _ = read_both(folder, rules)
    for name, item in casebook.evidence.items():
        now = again.evidence[name]
        same = replace(now, where=item.where, places=item.places, states=item.states)
        assert same == item
        assert {path: s[0].values for path, s in now.states.items()} == {
            path: s[0].values for path, s in item.states.items()
        }


def test_the_same_file_shown_here_and_withheld_there_is_refused(tmp_path: Path):
    twin = REGISTER["safe"].replace("show: nobody", "show: anyone")
    casebook = casebook_at(tmp_path / "engine", register() + f"safe-again:\n{twin}")
    asked = asked_of(casebook, rules_at(tmp_path / "rules"), tmp_path)
    with pytest.raises(NotPacked, match="'safe' is not to be shown and 'safe-again' is"):
        packed(asked)
    assert left_in(tmp_path) == []


@pytest.mark.parametrize("said", ["See the safe.jpg.", f"Its digest is {digest(SECRET)}.", "THE SAFE.JPG"])
def test_a_text_that_names_a_withheld_file_is_refused_with_its_line(tmp_path: Path, said: str):
    part = f"{SLIDE.rstrip()}\n    note: {said}\n"
    casebook = casebook_at(tmp_path / "engine", **{"components/slide.yaml": part})
    with pytest.raises(NotPacked, match=r"components/slide.yaml:16 names the file of 'safe'"):
        packed(asked_of(casebook, rules_at(tmp_path / "rules"), tmp_path))
    assert left_in(tmp_path) == []


@pytest.mark.parametrize("said", ["Look at the\n      safe.jpg there.", ">\n      As in The\n      Safe.jpg"])
def test_a_withheld_name_that_is_broken_over_two_lines_is_found(tmp_path: Path, said: str):
    part = f"{SLIDE.rstrip()}\n    note: {said}\n"
    casebook = casebook_at(tmp_path / "engine", **{"components/slide.yaml": part})
    with pytest.raises(NotPacked, match=r"components/slide.yaml:1[67] names the file of 'safe'"):
        packed(asked_of(casebook, rules_at(tmp_path / "rules"), tmp_path))


def test_a_withheld_name_that_is_written_in_signs_is_found_in_what_is_made_of_it(tmp_path: Path):
    slide = SLIDE.replace("significance_reason: It ran for eighty years.", 'significance_reason: "the s\\u0061fe.jpg"')
    casebook = casebook_at(tmp_path / "engine", **{"components/slide.yaml": slide})
    with pytest.raises(NotPacked, match="would name the file of 'safe', which is withheld"):
        packed(asked_of(casebook, rules_at(tmp_path / "rules"), tmp_path))
    assert left_in(tmp_path) == []


def test_files_of_one_name_in_two_folders_may_be_shown_and_withheld(tmp_path: Path):
    other = REGISTER["safe"].replace("the safe.jpg", "two/img_1.jpg").replace(digest(SECRET), digest(b"two"))
    one = other.replace("two/", "one/").replace(digest(b"two"), digest(b"one")).replace("nobody", "anyone")
    casebook = casebook_at(tmp_path / "engine", register() + f"one:\n{one.rstrip(' ')}two:\n{other.rstrip(' ')}")
    for name in ("one", "two"):
        (tmp_path / "engine/evidence" / name).mkdir()
        (tmp_path / "engine/evidence" / name / "img_1.jpg").write_bytes(name.encode())
    found = packed(asked_of(casebook, rules_at(tmp_path / "rules"), tmp_path))
    assert [path.parent.name for path in found.folder.rglob("img_1.jpg")] == ["one"]
    assert not any(b"two/img_1" in data or digest(b"two").encode() in data for data in every_byte(found).values())


@pytest.mark.parametrize("purpose", ["county", "leaflet"])
def test_a_picture_that_says_where_it_was_taken_does_not_go_to_everyone(tmp_path: Path, purpose: str):
    image = pytest.importorskip("PIL.Image")
    exif = image.Exif()
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 1.0, 0.0)})
    casebook = casebook_at(tmp_path / "engine")
    image.new("RGB", (8, 8)).save(tmp_path / "engine/evidence/bar.jpg", exif=exif)
    with (tmp_path / "engine/evidence/register.yaml").open("a", encoding="utf-8") as entries:
        entries.write("bar:\n  kind: photograph\n  file: bar.jpg\n  date: 2026-03-19\n  by: L. Fearn\n")
        entries.write("  about: [slide]\n  shows: The bar.\n  show: anyone\n")
    asked = asked_of(casebook, rules_at(tmp_path / "rules"), tmp_path, purpose)
    if purpose == "county":
        assert packed(asked).folder.is_dir()
    else:
        with pytest.raises(NotPacked, match=r"evidence/bar.jpg \('bar'\) says where it was taken"):
            packed(asked)
        assert left_in(tmp_path) == []


def test_a_word_that_only_begins_like_a_withheld_file_is_no_trace():
    assert trace_in("weld.svgz and awweld.svg", {"weld.svg": "w"}) is None
    assert trace_in("one\nsee weld.svg, please", {"weld.svg": "w"}) == (2, "w")


def test_silence_is_shown_to_nobody_whatever_the_audience(tmp_path: Path):
    casebook, _ = read_both(casebook_at(tmp_path / "engine"), rules_at(tmp_path / "rules"))
    for audience in Audience:
        assert "daybook" in [one.id for one in withheld_from(casebook.evidence, audience)]
    nobody = withheld_from(casebook.evidence, Audience.NOBODY)
    assert shown_files(casebook.evidence, nobody) == ()


# ---- the same each time ---------------------------------------------------------------------------------


def test_the_same_casebook_gives_the_same_bytes_in_whatever_order_its_evidence_stands(tmp_path: Path, bundle: Packed):
    (tmp_path / "out").mkdir()
    casebook = casebook_at(tmp_path / "engine", register(list(reversed(REGISTER))))
    again = packed(asked_of(casebook, rules_at(tmp_path / "rules"), tmp_path / "out"))
    assert again.zip.read_bytes() == bundle.zip.read_bytes()
    assert (again.manifest, again.seal) == (bundle.manifest, bundle.seal)


def test_another_day_and_another_word_make_another_bundle(tmp_path: Path, bundle: Packed):
    (tmp_path / "out").mkdir()
    said = SLIDE.replace("for eighty years", "for ninety years")
    casebook = casebook_at(tmp_path / "engine", **{"components/slide.yaml": said})
    again = packed(asked_of(casebook, rules_at(tmp_path / "rules"), tmp_path / "out"))
    assert again.seal != bundle.seal
    one, other = ((f / "bag-info.txt").read_text(encoding="utf-8") for f in (again.folder, bundle.folder))
    assert one.partition("External-Identifier")[2] != other.partition("External-Identifier")[2]


# ---- what is refused, and leaves nothing ----------------------------------------------------------------


def left_in(folder: Path) -> list[str]:
    """What is left beside the casebook and the rules."""
    return sorted(path.name for path in folder.iterdir() if path.name not in ("engine", "rules", "out"))


def test_altered_evidence_is_refused_by_name(tmp_path: Path):
    casebook, rules = casebook_at(tmp_path / "engine"), rules_at(tmp_path / "rules")
    asked = asked_of(casebook, rules, tmp_path)
    (tmp_path / "engine/evidence/weld.svg").write_bytes(FOR_REVIEWERS.replace(b"weld", b"wold"))
    with pytest.raises(NotPacked, match=r"evidence/weld.svg is not what was registered as 'weld-report'"):
        packed(asked)
    assert left_in(tmp_path) == []


def test_a_link_in_place_of_evidence_is_refused(tmp_path: Path):
    casebook, rules = casebook_at(tmp_path / "engine"), rules_at(tmp_path / "rules")
    asked = asked_of(casebook, rules, tmp_path)
    (tmp_path / "engine/evidence/weld.svg").unlink()
    (tmp_path / "weld.svg").write_bytes(FOR_REVIEWERS)
    (tmp_path / "engine/evidence/weld.svg").symlink_to(tmp_path / "weld.svg")
    with pytest.raises(FileRefused, match="symbolic link"):
        packed(asked)
    assert left_in(tmp_path) == ["weld.svg"]


def test_a_text_that_changed_since_it_was_read_is_refused(tmp_path: Path):
    casebook, rules = casebook_at(tmp_path / "engine"), rules_at(tmp_path / "rules")
    asked = asked_of(casebook, rules, tmp_path)
    (tmp_path / "engine/object.yaml").write_text("name: Another\n", encoding="utf-8")
    with pytest.raises(NotPacked, match=r"'object.yaml' has changed"):
        packed(asked)
    assert left_in(tmp_path) == []


def test_rules_that_changed_since_they_were_read_are_refused(tmp_path: Path):
    casebook, rules = casebook_at(tmp_path / "engine"), rules_at(tmp_path / "rules")
    asked = asked_of(casebook, rules, tmp_path)
    rules_folder(tmp_path / "rules", {"r/more": rule("proposal", "{}", "{note: More.}")})
    with pytest.raises(NotPacked, match="the rulebook came out otherwise"):
        packed(asked)
    assert left_in(tmp_path) == []


@pytest.mark.parametrize("what", ["folder", "file", "link"])
def test_nothing_that_is_there_is_written_over(tmp_path: Path, what: str):
    there = tmp_path / (f"{NAME}.zip" if what == "file" else NAME)
    if what == "folder":
        there.mkdir()
    elif what == "file":
        there.write_bytes(b"mine")
    else:
        there.symlink_to(tmp_path / "nowhere")
    asked = asked_of(casebook_at(tmp_path / "engine"), rules_at(tmp_path / "rules"), tmp_path)
    with pytest.raises(NotPacked, match="is there already, and is left as it is"):
        packed(asked)
    assert left_in(tmp_path) == [there.name]


@pytest.mark.parametrize("below", ["", "evidence", "../engine"])
def test_a_bundle_is_never_written_into_the_casebook(tmp_path: Path, below: str):
    casebook, rules = casebook_at(tmp_path / "engine"), rules_at(tmp_path / "rules")
    with pytest.raises(NotPacked, match="does not belong in the casebook"):
        packed(asked_of(casebook, rules, tmp_path / "engine" / below))


def test_a_bundle_is_never_written_among_the_rules(tmp_path: Path):
    casebook, rules = casebook_at(tmp_path / "engine"), rules_at(tmp_path / "rules")
    with pytest.raises(NotPacked, match="does not belong among the rules"):
        packed(asked_of(casebook, rules, tmp_path / "rules/r"))


def test_a_place_that_cannot_be_written_in_is_told_in_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    asked = asked_of(casebook_at(tmp_path / "engine"), rules_at(tmp_path / "rules"), tmp_path)

    def refused(self: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "mkdir", refused)
    with pytest.raises(NotPacked, match=r"nothing can be written in .*: permission denied"):
        packed(asked)


def test_a_name_that_is_taken_at_the_last_moment_leaves_no_half_of_a_bundle(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    asked, rename = asked_of(casebook_at(tmp_path / "engine"), rules_at(tmp_path / "rules"), tmp_path), os.rename

    def slower(old: Path, new: Path) -> None:
        if new.name == NAME:
            (new / "theirs").mkdir(parents=True)
        rename(old, new)

    monkeypatch.setattr(os, "rename", slower)
    with pytest.raises(OSError, match="not empty"):
        packed(asked)
    assert left_in(tmp_path) == [NAME]
    assert list((tmp_path / NAME).iterdir()) == [tmp_path / NAME / "theirs"]


def test_a_folder_whose_name_only_begins_like_the_casebooks_is_outside_it(tmp_path: Path):
    casebook, rules = casebook_at(tmp_path / "engine"), rules_at(tmp_path / "rules")
    (tmp_path / "engine-sent").mkdir()
    assert packed(asked_of(casebook, rules, tmp_path / "engine-sent")).folder.is_dir()


def test_a_run_that_is_killed_leaves_nothing_that_looks_finished(tmp_path: Path, bundle: Packed):
    """Stopped hard before its first file, midway, and before its last; what is left is hidden."""
    casebook_at(tmp_path / "engine")
    rules_at(tmp_path / "rules")
    script = f"""
import os, sys
sys.path[:0] = [{str(Path(__file__).parent)!r}, {str(Path(__file__).parent.parent)!r}]
import conserve.pack.bag as bag
from conserve.files import Folder
from pathlib import Path
from packing import asked_of, packed
asked, kept = asked_of(Folder(Path("engine")), Folder(Path("rules")), Path("out")), bag._written
for last in (1, 20, {bundle.files + 6}):
    if os.fork():
        assert os.waitstatus_to_exitcode(os.wait()[1]) == 9
        continue
    left = [last]
    def dying(path, blocks):
        left[0] -= 1
        if left[0] == 0:
            os._exit(9)
        return kept(path, blocks)
    bag._written = dying
    packed(asked)
    os._exit(0)
"""
    (tmp_path / "out").mkdir()
    done = subprocess.run([sys.executable, "-c", script], cwd=tmp_path, capture_output=True)
    assert done.returncode == 0, done.stderr.decode()
    left = list((tmp_path / "out").iterdir())
    assert len(left) == 3
    assert all(path.name.startswith(".packing-") for path in left)


# ---- the command ----------------------------------------------------------------------------------------


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    casebook_at(tmp_path / "engine")
    rules_at(tmp_path / "rules")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_command_says_what_it_wrote_and_what_it_withheld(here: Path, capsys: pytest.CaptureFixture[str]):
    assert main(["pack", "engine", "--for", "county", "--rules", "rules", "--on", "2026-05-04"]) == 0
    told = capsys.readouterr().out
    assert f"{NAME} and {NAME}.zip are written" in told
    assert "2 pieces of evidence are withheld" in told
    seal = digest((here / NAME / "tagmanifest-sha256.txt").read_bytes())
    assert seal in told


def test_a_bundle_that_was_sent_is_noted_in_the_casebook(here: Path, capsys: pytest.CaptureFixture[str]):
    words = ["pack", "engine", "--for", "county", "--rules", "rules", "--json"]
    assert main([*words, "--sent", "2026-05-11", "--recipient", "The fund: Mrs Hale"]) == 0
    told = json.loads(capsys.readouterr().out)
    note = json.loads((here / "engine/sent/2026-05-11-county.json").read_text(encoding="utf-8"))
    assert told["sent"] == "sent/2026-05-11-county.json"
    manifest = digest((Path(told["folder"]) / "manifest-sha256.txt").read_bytes())
    assert note["manifest"] == told["manifest"] == manifest
    assert (note["schema"], note["profile"]) == ("conserve-sent-1", "county")
    assert (note["sent"], note["to"]) == ("2026-05-11", "The fund: Mrs Hale")
    assert note["statement"]["paragraphs"]
    assert main([*words, "--sent", "2026-05-11", "--recipient", "Another", "--on", "2026-05-05"]) == 2
    assert "is there already" in capsys.readouterr().err
    assert not (here / "engine-county-2026-05-05").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--for", "county", "--sent", "2026-05-11"], "a bundle is sent on a day and to somebody"),
        (["--for", "county", "--recipient", "X"], "a bundle is sent on a day and to somebody"),
        (["--for", "county", "--sent", "2026-05-11", "--recipient", " "], "no name of a recipient"),
        (["--for", "county", "--sent", "2026-05-11", "--recipient", "\udcff"], "no name of a recipient"),
        (["--for", "county", "--sent", "2026-05-11", "--recipient", "a\x1b[2Jb"], "no name of a recipient"),
        (["--for", "county", "--sent", "2026-03-01", "--recipient", "X"], "was not sent on 2026-03-01"),
        (["--for", "county", "--to", "rules"], "does not belong among the rules"),
        (["--for", "country"], "county"),
        (["--for", "county", "--to", "nowhere"], "there is no folder 'nowhere'"),
        (["--for", "county", "--to", "engine"], "does not belong in the casebook"),
    ],
)
def test_the_command_refuses_in_a_sentence(here: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str):
    assert main(["pack", "engine", "--rules", "rules", *words]) == 2
    told = capsys.readouterr()
    assert said in told.err
    assert told.out == ""
    assert left_in(here) == []


def test_a_profile_with_a_fault_is_told_with_its_place(here: Path, capsys: pytest.CaptureFixture[str]):
    (here / "engine/profiles/county.yaml").write_text(profile("everybody").replace("        ", ""), encoding="utf-8")
    assert main(["pack", "engine", "--for", "county", "--rules", "rules"]) == 2
    assert "profiles/county.yaml:3:" in capsys.readouterr().err
    assert left_in(here) == []


def test_the_statement_goes_along_for_a_word_processor_and_for_print_when_asked(here: Path):
    pytest.importorskip("docx")
    pytest.importorskip("typst")
    words = ["pack", "engine", "--for", "leaflet", "--rules", "rules", "--on", DAY.isoformat()]
    assert main([*words, "--word", "--pdf"]) == 0
    home = here / "engine-leaflet-2026-05-04" / HOME / "statement"
    assert (home / "statement.docx").read_bytes()[:2] == b"PK"
    assert (home / "statement.pdf").read_bytes()[:5] == b"%PDF-"
    with zipfile.ZipFile(home / "statement.docx") as document:
        told = b"".join(document.read(name) for name in document.namelist())
    assert digest(SECRET).encode() not in told and b"spare keys" not in told


def test_a_change_after_sending_is_told_by_check(here: Path, capsys: pytest.CaptureFixture[str]):
    words = ["pack", "engine", "--for", "county", "--rules", "rules", "--sent", "2026-05-11", "--recipient", "The fund"]
    assert main(words) == 0
    assert main(["check", "engine", "--rules", "rules"]) == 0
    assert "overtaken" not in capsys.readouterr().out.partition("No problems.")[2]
    part = here / "engine/components/slide.yaml"
    part.write_text(part.read_text(encoding="utf-8").replace("for eighty years", "for ninety years"), encoding="utf-8")
    assert main(["check", "engine", "--rules", "rules"]) == 0
    told = capsys.readouterr().out
    assert "The fund" in told and "components/slide.yaml" in told
