"""The rules: one module an area, one small pure function a rule."""
