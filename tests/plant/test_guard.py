"""The guard of every reader of TOML: time grows with the length only, whatever is hidden in texts."""

from __future__ import annotations

import tomllib
from contextlib import suppress
from time import perf_counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from commission.plant.toml import _TEXTS, BY_HAND, Limits, UnfitError, _long_key, _stand_in, guarded

LONG = ".".join(["a"] * 200_000) + " = 1"
LARGE = Limits(largest=4_000_000, usual="a test")


def refusal(raw: bytes, limits: Limits = LARGE) -> str:
    """Return what is wrong with bytes, empty where they are read; it may take no second."""
    begun = perf_counter()
    try:
        guarded(raw, limits)
        said = ""
    except UnfitError as error:
        said = f"{error.wrong}; {error.right}"
    assert perf_counter() - begun < 4  # on a busy machine
    return said


@pytest.mark.parametrize(
    "before",
    [
        "", "x = 'a'\n", '# "\n', "# '''\n", 'x = "\\""\n', 'x = """ " """\n', 'x = """a""""\n',
        'x = """a"""""\n', "x = '''a''''\n", "x = ''' ' '''\n", 'x = """\\""""\n', "x = '\\'\n", 'x = "#"\n',
        "x = '#'\n", 'x = """\n#\n"""\n', 'x = ""\n', "x = ''\n", 'x = """"""\n', 'x = "\'"\n', "x = '\"'\n",
        "[t]\n", "[[t]]\n", "x = 1 # it's\n", 'x = 1 # so called "\n', 'x = """\\\n   """\n',
        "x = [ # it's\n 1]\n", 'x = ["""a""""]\n',
    ],
)  # fmt: skip
@pytest.mark.parametrize("key", [LONG, f"[{LONG.removesuffix(' = 1')}]", f"y = {{ {LONG} }}", f"  {LONG}"])
def test_an_endless_key_is_found_whatever_stands_before_it(before: str, key: str) -> None:
    """Above all quotes that end a text late, by which it could be hidden."""
    assert tomllib.loads(before) is not None  # what stands before is TOML
    assert "nested too deeply" in refusal((before + key).encode())


@pytest.mark.parametrize(
    "key",
    [
        ".".join(['"a"'] * 200_000) + " = 1",
        ".".join(["'a.b'"] * 200_000) + " = 1",
        " . ".join(["a"] * 200_000) + " = 1",
        "\t.\t".join(["a"] * 200_000) + " = 1",
        'y = { b = """x"y""", ' + LONG + " }",
        'y = { b = """x"""", ' + LONG + " }",
        "y = { b = '''x'''', " + LONG + " }",
        'y = { b = "x", c = \'"\', ' + LONG + " }",
        "a-b." * 200_000 + "c = 1",
    ],
)
def test_an_endless_key_is_found_however_it_is_written(key: str) -> None:
    assert "nested too deeply" in refusal(key.encode())


@pytest.mark.parametrize(
    "text",
    [
        'note = "' + "a." * 60 + '"',
        "note = '" + "a." * 60 + "'",
        'note = """\n' + "1. 2. 3. " * 30 + '\n"""',
        "note = '''" + "a.b." * 60 + "'''",
        'note = "it' + '\\"s a.' * 60 + '"',
        "x = 1 # " + "a." * 60,
        "x = [" + ", ".join(["1.5"] * 200) + "]",
        'x = ["' + '", "'.join(["a.b"] * 200) + '"]',
        'note = "' + "'a.b." * 60 + '"',
        'note = """ "a" ""b"" ' + "c." * 60 + ' """""',
        "\n".join(f"k{row}.a.b = 1.5" for row in range(200)),
    ],
)
def test_points_in_texts_comments_and_numbers_are_no_keys(text: str) -> None:
    assert guarded(text.encode()) == tomllib.loads(text)


@pytest.mark.parametrize(
    "raw",
    [
        b'"' + b'\\"' * 900_000,
        b'x = "' + b'\\"' * 900_000,
        b'x = "' * 300_000,
        b"'" * 1_500_000,
        b'"' * 1_500_000,
        b'""" ' * 400_000,
        b"a." * 24 + b"b" * 1_900_000,
        b"a " * 900_000,
        b"-" * 1_900_000,
        b"." * 1_900_000,
        b"[" * 1_900_000,
        b"x = " + b"[" * 900_000 + b"]" * 900_000,
        b"x = " + b"{a=" * 400_000,
        b"x = " + b"9" * 1_900_000,
        b"x = 0." + b"9" * 1_900_000,
        b"x = 1e" + b"9" * 1_900_000,
        b"x = " + b"1_" * 900_000 + b"1",
        b"x = 0x" + b"f" * 1_900_000,
        b"# " + b"a." * 900_000,
        b"\n" * 1_900_000,
        b" " * 1_900_000,
        b"\xef\xbb\xbf" * 500_000,
        b"x = '''" + b"''" * 900_000,
        b'x = """' + b"\\\n" * 900_000,
        b"[[a]]\n" * 300_000,
    ],
)  # fmt: skip
def test_no_file_of_two_million_bytes_takes_long(raw: bytes) -> None:
    """Read or refused; what is worst of it takes three seconds of a small machine, not the square."""
    begun = perf_counter()
    with suppress(UnfitError):
        guarded(raw, LARGE)
    assert perf_counter() - begun < 15


def test_a_file_that_is_too_large_is_refused_before_it_is_parsed() -> None:
    assert (
        refusal(b"#" * 21, Limits(largest=20, usual="twenty bytes")) == "larger than 20 bytes; twenty bytes"
    )
    assert refusal(b"#" * 20, Limits(largest=20, usual="twenty bytes")) == ""


@pytest.mark.parametrize("deepest", [4, 9, 24])
def test_the_depth_is_that_of_the_limits(deepest: int) -> None:
    limits = Limits(largest=1000, usual="", deepest=deepest)
    for made in (
        "x = " + "[" * (deepest - 1) + "]" * (deepest - 1),
        ".".join(["a"] * (deepest - 1)) + " = 1",
    ):
        assert refusal(made.encode(), limits) == ""
    for made in ("x = " + "[" * deepest + "]" * deepest, ".".join(["a"] * deepest) + " = 1"):
        assert "nested too deeply" in refusal(made.encode(), limits)


def test_a_mark_is_taken_only_where_an_editor_may_have_put_it() -> None:
    assert guarded(b"\xef\xbb\xbfa = 1", BY_HAND) == {"a": 1}
    assert "not TOML" in refusal(b"\xef\xbb\xbfa = 1", LARGE)


_PIECES = st.sampled_from(
    ["a", ".", "b", "'", '"', '"""', "'''", "\\", "#", "\n", " = ", "1", "[", "]", "{", "}", ",", " ", "x = "]
)


@settings(max_examples=600)
@given(st.lists(_PIECES, max_size=40).map("".join))
def test_what_is_toml_is_read_as_the_standard_library_reads_it(text: str) -> None:
    """And texts are taken for texts, so that what they hold counts as no key."""
    try:
        wanted = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError):
        return
    assert guarded(text.encode()) == wanted
    assert not _long_key(24).search(_TEXTS.sub(_stand_in, text))
