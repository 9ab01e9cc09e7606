import js from "@eslint/js";
import globals from "globals";

// Run from the top of the checkout, with this file named (see .ci/check).
export default [
  {
    files: ["blendkit/desk/assets/js/**/*.js"],
    languageOptions: { ecmaVersion: 2024, sourceType: "module", globals: globals.browser },
    rules: {
      ...js.configs.recommended.rules,
      "max-len": ["error", { code: 110, ignoreUrls: true }],
      eqeqeq: "error",
      "no-var": "error",
      "prefer-const": "error",
    },
  },
];
