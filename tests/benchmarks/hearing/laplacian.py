"""A reference to hold sections against: spectral clustering of a song's beats (McFee & Ellis, ISMIR 2014).

Written from the paper and from the parameters of the example that librosa's documentation gives of it: recurrence of
beats by their pitches, neighbours by their timbre, both in one graph, whose lowest eigenvectors are clustered.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
CLUSTERS = 5


def sections_of(pitches: Floats, timbre: Floats) -> tuple[list[int], list[int]]:
    """The beats with which sections begin, from 0 on, and their clusters.

    ``pitches`` (n, 252) in dB and ``timbre`` (n, 13) are of each beat.
    """
    from scipy.ndimage import median_filter
    from sklearn.cluster import KMeans

    weights = _graph(pitches, timbre)
    degrees = np.maximum(weights.sum(axis=1), 1e-12)
    laplacian = np.eye(len(weights)) - weights / np.sqrt(np.outer(degrees, degrees))
    _, vectors = np.linalg.eigh(laplacian)
    smooth = median_filter(vectors, size=(9, 1))[:, :CLUSTERS]
    rows = smooth / (np.sqrt(np.sum(smooth**2, axis=1, keepdims=True)) + 1e-12)
    clusters = KMeans(n_clusters=min(CLUSTERS, len(rows)), n_init=10, random_state=0).fit_predict(rows)
    starts = [0, *(np.flatnonzero(np.diff(clusters)) + 1).tolist()]
    return starts, [int(clusters[start]) for start in starts]


def _graph(pitches: Floats, timbre: Floats) -> Floats:
    """How strongly each beat is tied to each other one (n, n)."""
    import librosa

    recurrence = librosa.segment.recurrence_matrix(pitches.T, width=3, mode="affinity", sym=True)
    recurrence = librosa.segment.timelag_filter(_median_of_seven)(recurrence)
    apart = np.sum(np.diff(timbre, axis=0) ** 2, axis=1)
    near = np.exp(-apart / max(float(np.median(apart)), 1e-12))
    path = np.diag(near, 1) + np.diag(near, -1)
    of_path, of_all = path.sum(axis=1), (path + recurrence).sum(axis=1)
    share = of_path @ of_all / np.sum(of_all**2)
    return np.asarray(share * recurrence + (1 - share) * path)


def _median_of_seven(rows: Floats, **_: object) -> Floats:
    from scipy.ndimage import median_filter

    return np.asarray(median_filter(rows, size=(1, 7)))
