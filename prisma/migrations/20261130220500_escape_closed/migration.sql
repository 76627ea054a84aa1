-- Escapes are closed by a signed decision. A running older version goes on.
ALTER TYPE "DecisionKind" ADD VALUE 'close_escapes';
