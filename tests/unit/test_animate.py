"""Films: what moves in them, that numbers and poses are those of the solver, and what is refused."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from PIL import Image
from solved import TEXT, small

from biomech.cli import main
from biomech.cli.animate import pixels
from biomech.errors import FileError, InputError
from biomech.mechanics.poses import Pose, pose_exp, pose_log
from biomech.render import _film, animate, probe
from biomech.render._course_data import _done, course_data, pair_of
from biomech.render._course_film import course_film, course_frames
from biomech.render._course_marks import _beyond, _signed, _tips
from biomech.render._course_stage import magnified
from biomech.render._film import check_film, write_film
from biomech.render._shapes import to_viewer
from biomech.render._sheet import Sheet
from biomech.render._stage import Stage, tube
from biomech.render._tooth_film import section_frames
from biomech.render._tooth_panel import outline
from biomech.render._views import View
from biomech.render.animate import _processes as processes_for
from biomech.render.animate import animate_courses, animate_sections
from biomech.render.probe import DrawError, drawing
from biomech.scenario import Scenario
from biomech.studies import CAUTION
from biomech.studies.course import run_course
from biomech.tooth.meshes import Mesh

COURSE = """
[course]
law = "proportional"
duration = "6 weeks"
[[course.visit]]
after = "2 weeks"
note = "looked"
[[course.visit]]
after = "4 weeks"
remove = ["overlay"]
"""
SMALL = (400, 300)


@cache
def course():
    return run_course(Scenario.parse(tomllib.loads(TEXT + COURSE)))


@cache
def data():
    return course_data(course())


@pytest.fixture
def able():
    if not drawing().works:
        pytest.skip(drawing().reason)


def frames_of(path):
    with Image.open(path) as film:
        out = []
        for i in range(film.n_frames):
            film.seek(i)
            out.append(np.asarray(film.convert("RGB")).astype(int))
        return out, film.info


def test_a_section_film_goes_out_and_comes_back():
    shots = [f.astype(int) for f in section_frames([small(), small()], 13, 8, SMALL, None)]
    assert len(shots) == 8 and shots[0].shape == (300, 400, 3)
    away = [np.abs(f - shots[0]).mean() for f in shots]
    assert away[0] == 0 and np.argmax(away) == 4 and min(away[1:]) > 0
    for k in (1, 2, 3):
        assert np.array_equal(shots[k], shots[8 - k])


def test_the_gif_holds_the_frames_and_repeats(tmp_path):
    told = []
    path = animate_sections([small()], tmp_path / "a.gif", tooth=13, frames=6, size=SMALL,
                            progress=lambda what, share: told.append(share))  # fmt: skip
    shots, info = frames_of(path)
    assert shots[0].shape == (300, 400, 3) and info["loop"] == 0 and len(shots) >= 4
    assert told == [i / 6 for i in range(6)]
    assert list(tmp_path.iterdir()) == [path]


def test_a_gif_takes_as_long_as_its_frames(tmp_path):
    count = 37  # some look alike and become one that lasts longer
    frames = [np.full((12, 10, 3), 7 * min(i, count - 3), np.uint8) for i in range(count)]
    with Image.open(write_film(iter(frames), tmp_path / "a.gif", 15.0)) as film:
        lasting = []
        for i in range(film.n_frames):
            film.seek(i)
            lasting.append(film.info["duration"])
    assert sum(lasting) == 10 * round(100 * count / 15) and len(lasting) > 3


def test_an_mp4_has_its_frames_and_size(tmp_path):
    ffmpeg = pytest.importorskip("imageio_ffmpeg")
    path = animate_sections([small()], tmp_path / "a.mp4", tooth=13, frames=6, size=SMALL)
    reader = ffmpeg.read_frames(str(path))
    assert next(reader)["size"] == SMALL
    shots = [np.frombuffer(raw, np.uint8).reshape(300, 400, 3).astype(int) for raw in reader]
    drawn = list(section_frames([small()], 13, 6, SMALL, None))
    assert len(shots) == 6
    assert all(np.abs(a - b.astype(int)).mean() < 4 for a, b in zip(shots, drawn, strict=True))  # lossy


def test_the_outline_is_the_tooth():
    tooth = small().teeth[13].part.tooth
    mesh = tooth.crown_surface(96)
    line, flat = outline(mesh), mesh.vertices[:, 1:]
    assert np.abs(line.min(axis=0) - flat.min(axis=0)).max() < 0.1
    assert np.abs(line.max(axis=0) - flat.max(axis=0)).max() < 0.1


def test_course_data_are_the_courses_moments():
    now, days = data(), course().times
    for i in (0, 2, len(days) - 1):
        appliance, poses = course().appliance_at(i)
        if i + 1 < len(days) and days[i + 1] == days[i]:
            continue
        found = now.poses_at(float(days[i]))
        frames = [p.frame for p in appliance.teeth.values()]
        assert np.allclose(found.position, poses.position[0, frames], atol=1e-9)
        assert np.allclose(found.rotation, poses.rotation[0, frames], atol=1e-9)
    last = course().readings[-1]
    moved = now.start.inverse() @ now.poses_at(now.end)
    apex = moved.point(now.apex) - now.apex
    assert np.allclose(apex[:, 1], last.root_end[:, 1], atol=1e-9)
    assert now.tip_at(now.end, 0) == pytest.approx(-last.turn[0, 0])


def test_between_moments_teeth_are_between():
    now = data()
    stretch = now.stretches[0]
    a, b = (Pose(stretch.poses.rotation[k], stretch.poses.position[k]) for k in (0, 1))
    middle = now.poses_at(0.5 * float(stretch.days[0] + stretch.days[1]))
    assert np.allclose(middle.position, 0.5 * (a.position + b.position))
    assert np.allclose(a.rotation.swapaxes(1, 2) @ middle.rotation, middle.rotation.swapaxes(1, 2) @ b.rotation)


def test_wires_run_through_their_stations():
    track, appliance = course().legs[0].track, course().legs[0].appliance
    stations = appliance.wires["main"].stations(Pose(track.rotation, track.position)).position[1]
    line = data().wires_at(float(track.times[1]))["main"]
    pieces = np.linalg.norm(np.diff(line, axis=0), axis=1)
    away = np.linalg.norm(stations[:, None] - line, axis=-1).min(axis=1)
    assert np.allclose(line[[0, -1]], stations[[0, -1]]) and away.max() < pieces.max()


def test_wires_come_and_go_with_the_visits():
    now = data()
    assert set(now.wires_at(27.9)) == {"main", "overlay"} and set(now.wires_at(28.0)) == {"main"}
    assert now.note_at(13.9).number == 0 and now.note_at(14.0).done == "looked"
    assert "overlay" in now.note_at(40.0).done
    assert _done(("torque added",), (), "seen") == "torque added; seen"
    assert _done(("torque added",) * 20, (), "seen") == "seen" and "by rule" in _done(("x",) * 200, ("y",), "seen")


def test_long_axes_run_through_the_frame_beyond_crown_and_apex() -> None:
    marks = np.array([[0.5, 2.0, -7.5], [-0.3, 0.4, 12.0]])
    assert _beyond(marks).tolist() == [[0.0, 0.0, -9.0], [0.0, 0.0, 13.5]]


def test_magnified_motion():
    start = Pose(np.eye(3)[None], np.array([[1.0, 2.0, 3.0]]))
    screw = np.array([[0.1, -0.2, 0.3, 0.02, 0.1, -0.05]])
    now = start @ pose_exp(screw)
    assert np.allclose(pose_log(start.inverse() @ magnified(start, now, 3.0)), 3.0 * screw)


def test_a_tube_faces_outwards():
    line = np.column_stack([np.linspace(0, 4, 9), np.sin(np.linspace(0, 2, 9)), np.zeros(9)])
    mesh, normals = tube(line, 0.5)
    corners = mesh.vertices[mesh.triangles]
    facing = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert (np.einsum("ij,ij->i", facing, normals[mesh.triangles].mean(axis=1)) > 0).all()
    assert np.allclose(np.linalg.norm(mesh.vertices - np.repeat(line, len(normals) // 9, axis=0), axis=1), 0.5)


def test_a_course_film_moves_and_rests_at_the_end(able):
    shots = [f.astype(int) for f in course_frames([data(), data()], 13, 14, SMALL, None)]
    assert len(shots) == 14 and np.array_equal(shots[-1], shots[-2])
    assert np.abs(shots[6] - shots[0]).mean() > 0.2
    half = SMALL[0] // 2
    below = slice(150, 240)  # the fellows from the front
    assert np.abs(shots[-1][below, 4 : half - 4] - shots[-1][below, half + 4 : -4]).mean() < 1.0
    assert (shots[0][below] < 200).any()


def test_a_course_film_is_the_same_however_many_draw_it(able):
    here, shared = (list(course_frames([data()], 13, 14, SMALL, None, n)) for n in (1, 2))
    assert len(here) == len(shared) == 14
    assert all(np.array_equal(a, b) for a, b in zip(here, shared, strict=True))
    assert any(not np.array_equal(here[0], frame) for frame in here)


def test_how_many_draw(monkeypatch):
    monkeypatch.setattr(animate, "cores", lambda: 4)
    assert [processes_for(None, n) for n in (2, 30, 60, 1000)] == [1, 1, 2, 4]
    assert processes_for(1, 1000) == 1 and processes_for(99, 1000) == 6
    with pytest.raises(InputError, match="jobs = 0"):
        processes_for(0, 10)


def test_the_caution_stands_at_the_foot_of_every_film_of_courses(able):
    assert course_film([data(), data()], 13, SMALL, None).foot.count(CAUTION) == 1
    with_it, without = (next(course_frames([d], 13, 2, SMALL, None)) for d in (data(), replace(data(), caution="")))
    differs = np.flatnonzero((with_it != without).any(axis=(1, 2)))
    assert len(differs) and differs.min() > 0.95 * SMALL[1]


def test_teeth_whose_inside_shows_are_told_from_those_whose_does_not(able):
    """A gap between crown and root shows the far wall, and nothing is missing where there is none."""
    now = data()
    assert now.sealed == [True] * len(now.numbers)
    row = now.numbers.index(13)
    view = View("", np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0]), (13,))
    crown, root = now.meshes[row]
    open_root = Mesh(root.vertices, root.triangles[len(root.triangles) // 3 :])
    middle = view.flat(to_viewer(now.start.take(row).point(crown.vertices))).mean(axis=0)
    extent = (middle[0] - 12.0, middle[0] + 12.0, middle[1] - 25.0, middle[1] + 25.0)
    seen = {}
    for name, mesh in (("whole", root), ("open", open_root)):
        for sealed in (True, False):
            with Stage(view, [(crown, mesh)], [sealed], now.start.take(np.array([row])), extent, 8.0) as stage:
                seen[name, sealed] = np.array(stage.shot(now.start.take(np.array([row])), {})).astype(int)
    differs = {name: np.abs(seen[name, True] - seen[name, False]).max(axis=-1) > 12 for name in ("whole", "open")}
    shown = (seen["whole", False].max(axis=-1) < 255).sum()
    assert shown > 2000 and differs["whole"].sum() < 0.003 * shown < differs["open"].sum()


def test_fellows():
    assert pair_of([data()], None) == (13, 23)
    assert pair_of([data()], 22) == (12, 22)
    with pytest.raises(InputError, match=r"tooth 16 is not in the arch of .*present: 13, 12"):
        pair_of([data()], 16)


def test_tips_in_words():
    assert _tips([1.72, 1.68]) == "1.7\u00b0 crown outward"
    assert _tips([1.7, 2.0]) == "1.7\u00b0 / 2.0\u00b0 crown outward"
    assert _tips([1.0, -2.0]) == "1.0\u00b0 crown outward / 2.0\u00b0 root outward"
    assert _tips([0.01, -0.01]) == "0.0\u00b0"
    assert [_signed(v) for v in (1.26, -0.04, -2.0)] == ["+1.3 mm", "0.0 mm", "\u22122.0 mm"]


def test_tips_that_differ_are_told_in_full_beside_two_other_courses(able, monkeypatch):
    told, plain = [], Sheet.text

    def text(sheet, at, words, *args, **style):
        told.append(words)
        plain(sheet, at, words, *args, **style)

    monkeypatch.setattr(Sheet, "text", text)
    row = data().numbers.index(13)
    leaning = replace(data(), turn=np.where(np.arange(len(data().numbers)) == row, 2.6, -12.4) + 0.0 * data().turn)
    next(course_frames([leaning] * 3, 13, 2, (800, 600), None))
    assert "2.6\u00b0 crown outward /" in told and "12.4\u00b0 root outward" in told


def test_words_shrink_or_break_to_fit():
    sheet = Sheet(SMALL)
    sheet.fitted((0, 0), "word " * 40, 100, 2)
    assert (np.asarray(sheet.frame())[:, 60:] == 255).all()


@pytest.mark.parametrize(("name", "frames", "size", "said"), [
    ("a.avi", 9, SMALL, r"\.mp4 or \.gif"), ("a.gif", 1, SMALL, "2 to"), ("a.gif", 9, (100, 100), "320x240"),
    ("a.gif", 9, (401, 300), "even"),
])  # fmt: skip
def test_unusable_wishes(name, frames, size, said):
    with pytest.raises(InputError, match=said):
        check_film(name, frames, size)


def test_without_the_encoder_a_gif_is_still_possible(monkeypatch):
    monkeypatch.setattr(_film, "find_spec", lambda _: None)
    with pytest.raises(DrawError, match="pip install"):
        check_film("a.mp4", 9, SMALL)
    assert check_film("a.gif", 9, SMALL).name == "a.gif"


def test_a_machine_that_cannot_draw_is_told(monkeypatch, tmp_path):
    monkeypatch.setattr(probe, "_CHILD", "import os; os.kill(os.getpid(), 11)")
    probe.drawing.cache_clear()
    try:
        with pytest.raises(DrawError, match="install"):
            animate_courses([data()], tmp_path / "a.gif", frames=2, size=SMALL)
        assert animate_sections([small()], tmp_path / "b.gif", tooth=13, frames=2, size=SMALL).exists()
    finally:
        probe.drawing.cache_clear()


def test_nothing_half_written_is_left(tmp_path):
    def broken():
        yield np.zeros((300, 400, 3), np.uint8)
        raise KeyboardInterrupt

    for name in ("a.gif", "a.mp4"):
        if name.endswith("gif") or _film.find_spec("imageio_ffmpeg"):
            with pytest.raises(KeyboardInterrupt):
                write_film(broken(), tmp_path / name, 15.0)
    assert not list(tmp_path.iterdir())
    with pytest.raises(FileError, match="nowhere"):
        animate_sections([small()], tmp_path / "nowhere" / "a.gif", tooth=13, frames=2, size=SMALL)


@pytest.mark.parametrize("count", [0, 5])
def test_too_many(count, tmp_path):
    with pytest.raises(InputError, match="1 to 4"):
        animate_sections([small()] * count, tmp_path / "a.gif")


def test_sizes():
    assert pixels("800x600") == (800, 600) and pixels(" 640 X 480") == (640, 480)
    with pytest.raises(InputError, match="WIDTHxHEIGHT"):
        pixels("800")


@pytest.fixture
def files(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name, text in (("moment", TEXT), ("short", TEXT + COURSE)):
        (tmp_path / f"{name}.toml").write_text(text)
    return tmp_path


def test_the_command_films_moments(files, capsys):
    assert main(["animate", "moment.toml", "moment.toml", "--out", "new/a.gif", "--frames", "2", "--size", "400x300"]) == 0
    assert capsys.readouterr().out == "Written: new/a.gif\n"
    assert len(frames_of(files / "new" / "a.gif")[0]) == 2


def test_the_command_films_courses(files, able):
    asked = ["animate", "short.toml", "--out", "a.gif", "--frames", "4", "--size", "400x300", "--quiet"]
    assert main(asked) == 0
    assert len(frames_of(files / "a.gif")[0]) >= 2
    assert list((files / "out" / "short" / "legs").iterdir())


def test_courses_run_beside_each_other(files, able):
    (files / "next").mkdir()
    (files / "next" / "short.toml").write_text(TEXT + COURSE.replace("6 weeks", "5 weeks"))
    asked = ["animate", "short.toml", "next/short.toml", "--out", "a.gif", "--frames", "2", "--size", "400x300"]
    assert main(asked) == 0
    assert len(frames_of(files / "a.gif")[0]) == 2
    assert not (files / "out").exists()  # files of one name do not share a folder


@pytest.mark.parametrize(("words", "status", "said"), [
    (["moment.toml", "short.toml"], 2, "moment.toml: no [course]"),
    (["moment.toml", "--tooth", "16"], 2, "--tooth 16: not in the arch of moment.toml; present: 13, 12"),
    (["moment.toml", "--tooth", "x"], 2, '--tooth "x"'),
    (["moment.toml", "--size", "big"], 2, "WIDTHxHEIGHT"),
    (["moment.toml", "--magnify", "-1"], 2, "magnify"),
    (["moment.toml", "--out", "a.png"], 2, ".mp4 or .gif"),
    (["absent.toml"], 2, "absent.toml"),
])  # fmt: skip
def test_the_command_refuses(files, capsys, words, status, said):
    assert main(["animate", *words, *([] if "--out" in words else ["--out", "a.gif"])]) == status
    assert said in capsys.readouterr().err
    assert not list(files.glob("*.gif"))
