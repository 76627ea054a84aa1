import { ErrorNotice } from "@/lib/ui/error-notice";
import { SETUP_WORDS } from "../words/first-page";

const words = SETUP_WORDS.uncertainty;

/** What of the uncertainty uses much of a tolerance; nothing where nothing does. */
export function UncertaintyNotice({ warnings }: Readonly<{ warnings: readonly string[] }>) {
  if (warnings.length === 0) return null;
  return (
    <ErrorNotice tone="caution" title={words.uncertaintyUsesMuchOfTolerance}>
      {warnings.map((warning) => (
        <p key={warning}>{warning}</p>
      ))}
    </ErrorNotice>
  );
}
