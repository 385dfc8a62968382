"""The mix: the figures of feedstocks together, and how much of each, in which layers."""

from monitor.mix.blend import Part, figures_of
from monitor.mix.bounds import Bound
from monitor.mix.bucket import BUCKET_ML, BucketTest, measured
from monitor.mix.heap import HIGH_MM, LEAST_IN_FROST_ML, LEAST_ML, HeapSize, heap_size, layers_of
from monitor.mix.known import known_feedstocks
from monitor.mix.limits import Band, MixLimits
from monitor.mix.linear import lacks_solver
from monitor.mix.materials import Feedstock, Figure
from monitor.mix.recipe import Offer, Recipe, work_out
