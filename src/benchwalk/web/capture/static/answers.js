// @ts-check
/**
 * @typedef {{id: string, rev: number, answer: string, reason: string | null}} Answer
 * @typedef {{operation: string, epoch: number, received_at: string, answers: Answer[]}} Said
 */
const ANSWERS = ["applied", "duplicate", "stale", "conflict", "rejected"];

/**
 * The server's answers; whatever else may come with status 200 (the page of a captive portal, a
 * cut body, another server) is no answer at all.
 * @param {string} text
 * @param {string} operation uid of the operation this phone is paired with
 * @returns {Said}
 */
export function readAnswers(text, operation) {
  const said = JSON.parse(text);
  const whole = said !== null && typeof said === "object" && Array.isArray(said.answers) && Number.isInteger(said.epoch);
  if (!whole || said.version !== 1) throw new Error("this is no answer of the server");
  if (said.operation !== operation) throw new Error("this is the answer of another operation");
  return { ...said, answers: said.answers.filter(sound) };
}

/** @param {any} answer */
const sound = (answer) => typeof answer?.id === "string" && Number.isInteger(answer.rev) && ANSWERS.includes(answer.answer);
