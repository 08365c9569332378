"""A patch of the lattice: its beads, its neighbours, the bead under a point."""

import networkx
import numpy as np
import pytest
from himotif.convert.fit.energy import connected_runs
from himotif.convert.fit.optimise import cheapest_path
from himotif.convert.fit.patch import Patch
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice


def lattice(strands, **more):
    return Lattice.computed(Braid(strands, **more), bead_size("8/0"))


@pytest.mark.parametrize("strands", [8, 12, 16, 24])
@pytest.mark.parametrize("lay", ["S", "Z"])
def test_the_bead_under_a_point_is_the_lattices_own(strands, lay):
    own = lattice(strands, lay=lay)
    patch = Patch.of(own, 12.0)
    seed = 2 * 40 * own.braid.axes + 1
    x, y = np.random.default_rng(strands).uniform((-50, -9), (50, 9), (400, 2)).T
    there = own.owner(x + own.x_mm(seed), y + own.height_mm(seed), 80 * own.braid.beads_per_round)
    step, side = np.divmod(there, 2)
    found = patch.owner(x, y)
    assert np.array_equal(patch.step[found], step - seed // 2)
    assert np.array_equal(patch.side[found], side ^ (seed & 1))
    nearly = patch.owner_map.at(np.stack([x, y], axis=1))
    # pixels on the edge of a cell may go either way
    assert (nearly == found).mean() > 0.9


@pytest.mark.parametrize("strands", [8, 16])
def test_neighbours_are_the_six_nearest_and_mutual(strands):
    patch = Patch.of(lattice(strands), 8.0)
    middle = int(np.flatnonzero((patch.step == 0) & (patch.side == 0))[0])
    near = patch.neighbours[middle]
    away = np.hypot(patch.x_mm[near], patch.y_mm[near])
    everyone = np.hypot(patch.x_mm, patch.y_mm)
    assert sorted(away) == pytest.approx(sorted(everyone)[1:7])
    for bead, others in enumerate(patch.neighbours):
        assert all(bead in patch.neighbours[other] for other in others if other >= 0)


def test_places_fill_the_cell_of_the_seed():
    own = lattice(8)
    patch = Patch.of(own, 8.0)
    places = patch.offsets_mm(own.pitch_mm / 10)
    assert (places[0] == 0).all()
    seed = int(np.flatnonzero((patch.step == 0) & (patch.side == 0))[0])
    assert (patch.owner(*(0.999 * places).T) == seed).all()
    assert len(places) * (own.pitch_mm / 10) ** 2 == pytest.approx(own.cell_area_mm2, rel=0.05)


def test_runs_are_the_components_of_one_colour():
    patch = Patch.of(lattice(8), 10.0)
    colours = np.random.default_rng(3).integers(0, 3, (5, len(patch)))
    runs = connected_runs(colours, patch.neighbours)
    for place in range(len(colours)):
        graph = networkx.Graph()
        graph.add_nodes_from(range(len(patch)))
        graph.add_edges_from(
            (a, int(b))
            for a in range(len(patch))
            for b in patch.neighbours[a]
            if b >= 0 and colours[place, a] == colours[place, b]
        )
        for component in networkx.connected_components(graph):
            assert len(set(runs[place, list(component)])) == 1
        assert len(set(runs[place])) == networkx.number_connected_components(graph)


def test_the_cheapest_path_is_dijkstras():
    patch = Patch.of(lattice(12), 10.0)
    random = np.random.default_rng(5)
    cost = random.uniform(0.1, 1.0, len(patch))
    graph = networkx.DiGraph()
    graph.add_weighted_edges_from(
        (a, int(b), cost[b]) for a in range(len(patch)) for b in patch.neighbours[a] if b >= 0
    )
    start, goal = np.zeros(len(patch), dtype=bool), np.zeros(len(patch), dtype=bool)
    start[3], goal[-4] = True, True
    path = cheapest_path(start, goal, cost, patch.neighbours)
    expected = networkx.dijkstra_path_length(graph, 3, len(patch) - 4)
    assert sum(cost[bead] for bead in path if bead != 3) == pytest.approx(expected)
    cost[goal] = np.inf
    assert cheapest_path(start, goal, cost, patch.neighbours) is None
