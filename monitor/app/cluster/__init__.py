"""The workers of a Dask cluster: reached, compared with this program, and used like any executor (the extra `fleet`)."""

from monitor.app.cluster.dask_cluster import Cluster, at_cluster
from monitor.app.cluster.likeness import likeness, unlike_words
from monitor.app.cluster.spreading import cores, spread_over
