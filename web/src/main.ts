// Starts the screens.
import { mount } from 'svelte';
import App from './App.svelte';
import { screen_sound } from './clock/sound.svelte.ts';
import './look/base.css';
import { offline } from './offline.svelte.ts';
import { ship } from './ship.svelte.ts';
import { words } from './words/words.svelte.ts';

mount(App, { target: document.getElementById('app')! });
void words.fetch();
void ship.start();
void offline.start();
screen_sound.start();
