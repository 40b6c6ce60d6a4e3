"""``python -m ebbline.vocabulary``: write the pages' copy anew."""

from ebbline.vocabulary.javascript import TABLE, javascript

if __name__ == "__main__":
    TABLE.write_text(javascript(), encoding="utf-8")
    print(f"Wrote {TABLE}.")
