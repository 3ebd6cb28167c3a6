// Starts Swagger UI on the document of this service.
"use strict";

/**
 * Has the first example of every parameter be of one question. Swagger UI fills each field with the first of its own,
 * and one that has none with whatever its schema allows; taken together these are no question.
 */
function agree(document) {
  for (const { parameters = [] } of Object.values(document.paths).flatMap(Object.values)) {
    const [name] = parameters.flatMap(({ examples = {} }) => Object.keys(examples));
    for (const parameter of parameters) {
      const example = parameter.examples?.[name];
      parameter.examples = example ? { [name]: example, ...parameter.examples } : {};
    }
  }
  return document;
}

const agreeing = () => ({
  statePlugins: { spec: { wrapActions: { updateJsonSpec: (update) => (document) => update(agree(document)) } } },
});

document.documentElement.classList.toggle("dark-mode", matchMedia("(prefers-color-scheme: dark)").matches);
SwaggerUIBundle({
  url: "/openapi.json",
  dom_id: "#swagger-ui",
  deepLinking: true,
  validatorUrl: "none",
  // Every operation shows the schemas that it has; the list of all of them doubles the time that the page takes.
  defaultModelsExpandDepth: -1,
  plugins: [agreeing],
});
