"""What a camera's picture says of a table: where things are in it, and how surely.

Numbers only: pixels come in as coordinates, from wherever they were found. ``lens`` is the model of a camera,
``homography`` a first idea of it, ``laid`` what is said of marks before the picture, ``table_fit`` the fit of all
together, ``refusals`` what is wrong with a picture that does not fit, ``robot_pose`` a robot by the mark on its top.
"""
