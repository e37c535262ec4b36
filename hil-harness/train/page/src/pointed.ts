// Names of what the lesson points at: panels, parts of the picture, signals, commands.
import { createContext } from "preact";

export const Pointed = createContext<ReadonlySet<string>>(new Set());
