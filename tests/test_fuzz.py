"""A seeded thousand of mutated files for every reader: a value or a refusal in words, never anything else. `make bench ARGS=trust_fuzz` asks for more, and of forms, commands and archives too."""

from fuzzing import READERS, Fuzzed, fuzz_readers


def test_a_thousand_files_are_taken_or_refused_in_words() -> None:
    found = Fuzzed()
    fuzz_readers(found, READERS, 1000)
    assert not found.wrong, "\n".join(found.wrong)
    assert 50 < found.taken < 900, "both ways are tried"
