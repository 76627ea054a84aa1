-- Two kinds of signed decision: which of disagreeing inspections counts, and that a sample's risk is taken. A running older version writes neither and goes on.

ALTER TYPE "DecisionKind" ADD VALUE 'resolve_disagreement';
ALTER TYPE "DecisionKind" ADD VALUE 'accept_sample_risk';
