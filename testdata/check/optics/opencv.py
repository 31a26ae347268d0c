"""Makes opencv.json: what OpenCV, an independent library, says of its own published
chessboard pictures (left01.jpg … left14.jpg with left_intrinsics.yml, Apache-2.0).

    python3 opencv.py FOLDER-OF-THE-PICTURES > opencv.json

Needs OpenCV's bindings for Python and its sample data (Debian: python3-opencv,
opencv-doc; the folder is /usr/share/doc/opencv-doc/examples/data). The tests read
opencv.json and need neither.
"""

import json
import os
import sys

import cv2
import numpy as np

folder = sys.argv[1]
yml = cv2.FileStorage(os.path.join(folder, "left_intrinsics.yml"), cv2.FILE_STORAGE_READ)
matrix = yml.getNode("camera_matrix").mat()
coefficients = yml.getNode("distortion_coefficients").mat().ravel()
square = yml.getNode("square_size").real()
columns, rows = int(yml.getNode("board_width").real()), int(yml.getNode("board_height").real())
told = list(zip(yml.getNode("per_view_reprojection_errors").mat().ravel(), yml.getNode("extrinsic_parameters").mat()))
board = np.array([[i * square, j * square, 0] for j in range(rows) for i in range(columns)])

out = {
    "what": "Corners, poses, projections and undistorted places by OpenCV of its own sample pictures.",
    "source": "samples/data/left01.jpg to left14.jpg and left_intrinsics.yml of OpenCV, Debian package opencv-doc; licence Apache-2.0",
    "version": "OpenCV " + cv2.__version__,
    "made_by": "opencv.py beside this file",
    "camera": {
        "width_px": int(yml.getNode("image_width").real()),
        "height_px": int(yml.getNode("image_height").real()),
        "fx_px": matrix[0, 0], "fy_px": matrix[1, 1], "cx_px": matrix[0, 2], "cy_px": matrix[1, 2],
        "k1": coefficients[0], "k2": coefficients[1], "p1": coefficients[2], "p2": coefficients[3], "k3": coefficients[4],
    },
    "square_m": square,
    "published_rms_px": yml.getNode("avg_reprojection_error").real(),
    "views": [],
}

tight = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 500, 1e-15)
names = sorted(n for n in os.listdir(folder) if n.startswith("left") and n.endswith(".jpg") and n[4:6].isdigit())
for name, published in zip(names, told):
    grey = cv2.imread(os.path.join(folder, name), cv2.IMREAD_GRAYSCALE)
    found, corners = cv2.findChessboardCorners(grey, (columns, rows), cv2.CALIB_CB_ADAPTIVE_THRESH | cv2.CALIB_CB_FAST_CHECK | cv2.CALIB_CB_NORMALIZE_IMAGE)
    if not found:
        sys.exit(name + ": no board")
    corners = cv2.cornerSubPix(grey, corners, (11, 11), (-1, -1), (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 30, 0.1))
    pixels = corners.reshape(-1, 2).astype(np.float64)
    ok, rvec, tvec = cv2.solvePnP(board, pixels, matrix, coefficients, flags=cv2.SOLVEPNP_ITERATIVE)
    rvec, tvec = cv2.solvePnPRefineLM(board, pixels, matrix, coefficients, rvec, tvec, tight)
    again, _ = cv2.projectPoints(board, rvec, tvec, matrix, coefficients)
    rms = float(np.sqrt(np.mean(np.sum((again.reshape(-1, 2) - pixels) ** 2, axis=1))))
    view = {
        "picture": name, "published_rms_px": float(published[0]), "published_extrinsics": published[1].tolist(), "rms_px": rms,
        "rvec": rvec.ravel().tolist(), "tvec": tvec.ravel().tolist(), "pixels": pixels.tolist(),
    }
    if name in ("left01.jpg", "left06.jpg"):
        undistorted = cv2.undistortPointsIter(pixels.reshape(-1, 1, 2), matrix, coefficients, np.eye(3), np.eye(3), tight)
        view |= {"projected": again.reshape(-1, 2).tolist(), "undistorted": undistorted.reshape(-1, 2).tolist()}
    out["views"].append(view)

# Places off a plane, by a camera with much of every coefficient.
strong = {"width_px": 1920, "height_px": 1080, "fx_px": 1180.5, "fy_px": 1172.25, "cx_px": 951.125, "cy_px": 547.75,
          "k1": -0.31, "k2": 0.12, "p1": 0.0031, "p2": -0.0023, "k3": -0.019}
k = np.array([[strong["fx_px"], 0, strong["cx_px"]], [0, strong["fy_px"], strong["cy_px"]], [0, 0, 1]])
d = np.array([strong[n] for n in ("k1", "k2", "p1", "p2", "k3")])
rng = np.random.default_rng(1)
places = np.round(rng.uniform([-0.5, -0.35, 0.9], [0.5, 0.35, 1.9], (40, 3)), 4)
pixels, _ = cv2.projectPoints(places, np.zeros(3), np.zeros(3), k, d)
undistorted = cv2.undistortPointsIter(pixels, k, d, np.eye(3), np.eye(3), tight)
out["strong"] = {"camera": strong, "places": places.tolist(), "projected": pixels.reshape(-1, 2).tolist(), "undistorted": undistorted.reshape(-1, 2).tolist()}

# Four corners of a plate seen small, with clicks that are off: both poses that flat
# marks allow, each refined to its own least squares.
corners = np.array([[0.15, 0.1, 0], [-0.15, 0.1, 0], [-0.15, -0.1, 0], [0.15, -0.1, 0]])
straight = np.zeros(5)
k[:] = [[1180, 0, 960], [0, 1180, 540], [0, 0, 1]]
pixels, _ = cv2.projectPoints(corners, np.array([3.0, 0.15, 0.4]), np.array([0.1, -0.2, 2.5]), k, straight)
pixels = np.round(pixels.reshape(-1, 2) + rng.normal(0, 0.3, (4, 2)), 2)
ok, rvecs, tvecs, _ = cv2.solvePnPGeneric(corners, pixels, k, straight, flags=cv2.SOLVEPNP_IPPE)
poses = []
for rvec, tvec in zip(rvecs, tvecs):
    rvec, tvec = cv2.solvePnPRefineLM(corners, pixels, k, straight, rvec, tvec, tight)
    again, _ = cv2.projectPoints(corners, rvec, tvec, k, straight)
    rms = float(np.sqrt(np.mean(np.sum((again.reshape(-1, 2) - pixels) ** 2, axis=1))))
    poses.append({"rvec": rvec.ravel().tolist(), "tvec": tvec.ravel().tolist(), "rms_px": rms})
out["flat"] = {"places": corners.tolist(), "pixels": pixels.tolist(), "focal_px": 1180, "centre_px": [960, 540], "poses": poses}
text = json.dumps(out, indent=1, ensure_ascii=False)
# Points on one line each.
import re  # noqa: E402
print(re.sub(r"\[\s+(-?[\d.e+-]+),\s+(-?[\d.e+-]+)(?:,\s+(-?[\d.e+-]+))?\s+\]", lambda m: "[" + ", ".join(g for g in m.groups() if g) + "]", text))
