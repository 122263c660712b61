"""What a run is asked for beside the main job, and the share of the progress of each part."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Asked:
    """What follows the main job.

    Attributes
    ----------
    merge, fit, compare, revisit : bool
        Stages that follow.
    epochs : bool
        Kept and rejected epochs are written.
    update : int
        What the basemap takes over, a choice of `UPDATE_BASEMAP`.
    reach : float
        How far from a place where somebody walked a line counts as visited, m.
    """

    merge: bool
    fit: bool
    compare: bool
    revisit: bool
    epochs: bool
    update: int
    reach: float

    @classmethod
    def of(cls, algorithm, parameters, context):
        """What the parameters of `processcaptures` say."""

        def flag(name):
            return algorithm.parameterAsBool(parameters, name, context)

        return cls(
            merge=flag(algorithm.MERGE_PASSES),
            fit=flag(algorithm.FIT_ALIGNMENTS),
            compare=algorithm.wanted(parameters, algorithm.EXISTING),
            revisit=flag(algorithm.LIST_REVISITS),
            epochs=flag(algorithm.WRITE_EPOCHS),
            update=algorithm.parameterAsEnum(parameters, algorithm.UPDATE_BASEMAP, context),
            reach=algorithm.parameterAsDouble(parameters, "REACH", context),
        )

    @property
    def stages(self):
        """Names of the stages that follow, in their order."""
        return [name for name in ("merge", "fit", "compare", "revisit") if getattr(self, name)]

    # Per cent of the progress where a part of the work ends: about its share of the time.

    @property
    def layers_end(self):
        """The main job on all layers."""
        return 55 if self.stages else 80

    @property
    def stages_end(self):
        """The stages that follow."""
        return 85 if self.stages else self.layers_end

    @property
    def layers_written(self):
        """Writing; an update of the basemap comes after it, up to `UPDATED`."""
        return 92 if self.update else UPDATED


UPDATED, SUMMED_UP = 97, 98  # likewise, of every run
