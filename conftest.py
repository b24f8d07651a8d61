"""Of the whole suite."""

pytest_plugins = ["tests.no_skips", "tests.order", "tests.quick"]
