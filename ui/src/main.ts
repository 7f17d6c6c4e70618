import { mount } from 'svelte';
import App from './App.svelte';
import './style/tokens.css';
import './style/base.css';

const target = document.getElementById('app');
if (target) mount(App, { target });
