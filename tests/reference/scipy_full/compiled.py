"""One place that says how functions are compiled. `PLAIN_PYTHON=1` runs everything uncompiled, some hundred times slower.
What was compiled is kept in the folder of temporary files, by the text of all files here."""
import hashlib
import os
import pathlib
import tempfile

if os.environ.get("PLAIN_PYTHON"):
    def compiled(function):
        return function
else:
    files = sorted(pathlib.Path(__file__).parent.glob("*.py"))
    text = hashlib.sha256(b"".join(f.read_bytes() for f in files if f.stem not in ("bites", "compare", "wild", "logic", "model")))
    os.environ["NUMBA_CACHE_DIR"] = str(pathlib.Path(tempfile.gettempdir()) / f"full-model-{text.hexdigest()[:16]}")
    import numba

    compiled = numba.njit(cache=True, error_model="numpy")
