"""Makes a set of photos: `python -m stampreader.train.photos --kind test --count 100 --out DIR`."""

from .works import main

if __name__ == "__main__":
    raise SystemExit(main())
