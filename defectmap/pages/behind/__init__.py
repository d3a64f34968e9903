"""What stands behind the pages: logic without drawing, each part with its own tests."""
